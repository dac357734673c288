import { useState } from "react";
import { spacingText } from "../../charts/lengths.ts";
import { aims } from "../../spacing/aims.ts";
import { poleCeiling } from "../../spacing/start.ts";
import { polePlaces } from "../../spacing/travel.ts";
import type { AimId, Layout, PoleGait } from "../../spacing/types.ts";
import type { DogMeasures, Units } from "../../store/types.ts";
import { Icon } from "../shell/Icon.tsx";
import { LengthField } from "../shell/LengthField.tsx";
import { Note } from "../shell/Note.tsx";
import { Choice } from "./Choice.tsx";
import { PlanDrawing } from "./PlanDrawing.tsx";
import {
  changeRow,
  FEWEST_POLES,
  MOST_POLES,
  polesThatFit,
  type RowRecipe,
  type RowShape,
  recipeOf,
} from "./rows.ts";

interface RowEditorProps {
  layout: Layout;
  gait: PoleGait;
  aim: AimId;
  measures: DogMeasures;
  units: Units;
  onChange(layout: Layout): void;
}

/** A row, drawn to scale, and everything about it that can be set. */
export function RowEditor({ layout, gait, aim, measures, units, onChange }: RowEditorProps) {
  const recipe = recipeOf(layout);
  const set = (part: Partial<RowRecipe>) => onChange(changeRow(layout, part, units));
  const ceiling = heightProblem(layout, gait, measures, units);
  return (
    <section className="sheet stack" aria-labelledby="row">
      <h2 id="row">The row</h2>
      <PlanDrawing layout={layout} units={units} />
      <Choice<RowShape>
        label="Gaps"
        value={recipe.shape}
        options={[
          { value: "even", name: "Even" },
          { value: "widening", name: "Widening" },
          { value: "uneven", name: "Uneven" },
        ]}
        onChange={(shape) => set({ shape })}
      />
      <div className="kennel-pair">
        <LengthField
          label={recipe.shape === "even" ? "Spacing, pole to pole" : "First gap"}
          valueM={recipe.spacingM}
          units={units}
          problem={recipe.spacingM > 2 ? "That is too far for any dog." : null}
          onChange={(spacingM) => sensible(spacingM) && set({ spacingM })}
        />
        {recipe.shape === "widening" && (
          <LengthField
            label="Wider from gap to gap by"
            valueM={recipe.widenM}
            units={units}
            onChange={(widenM) => widenM !== null && widenM > 0 && widenM <= 0.2 && set({ widenM })}
          />
        )}
        <PoleCount recipe={recipe} onChange={(poles) => set({ poles })} />
        <Room recipe={recipe} units={units} onFit={(poles) => set({ poles })} />
        <LengthField
          label="Height of the poles' top"
          hint={aims[aim].height.rule}
          valueM={recipe.heightM}
          units={units}
          problem={ceiling}
          onChange={(heightM) => heightM !== null && heightM <= 0.6 && set({ heightM })}
        />
      </div>
      <div>
        {recipe.heightM > 0 && (
          <label className="kennel-check">
            <input
              type="checkbox"
              checked={recipe.everySecond}
              onChange={(event) => set({ everySecond: event.target.checked })}
            />
            Every second pole on the ground
          </label>
        )}
        <label className="kennel-check">
          <input
            type="checkbox"
            checked={recipe.angleDeg !== 0}
            onChange={(event) => set({ angleDeg: event.target.checked ? 12 : 0 })}
          />
          <span>
            Angled poles
            <span className="soft small">
              Turned a little to one side and the other. The spacing holds along the middle.
            </span>
          </span>
        </label>
      </div>
      {recipe.shape === "uneven" && <GapTable layout={layout} units={units} onChange={onChange} />}
      <TapeList layout={layout} units={units} />
    </section>
  );
}

function sensible(metres: number | null): metres is number {
  return metres !== null && metres >= 0.05 && metres <= 2;
}

function PoleCount({ recipe, onChange }: { recipe: RowRecipe; onChange(poles: number): void }) {
  return (
    <fieldset className="field">
      <legend className="kennel-legend">Poles</legend>
      <span className="kennel-stepper">
        <button
          type="button"
          className="button button-icon"
          aria-label="One pole fewer"
          disabled={recipe.poles <= FEWEST_POLES}
          onClick={() => onChange(recipe.poles - 1)}
        >
          <Icon name="minus" />
        </button>
        <output aria-live="polite">{recipe.poles}</output>
        <button
          type="button"
          className="button button-icon"
          aria-label="One pole more"
          disabled={recipe.poles >= MOST_POLES}
          onClick={() => onChange(recipe.poles + 1)}
        >
          <Icon name="plus" />
        </button>
      </span>
    </fieldset>
  );
}

function Room({ recipe, units, onFit }: { recipe: RowRecipe; units: Units; onFit(poles: number): void }) {
  const [availableM, setAvailableM] = useState<number | null>(null);
  const fit = availableM === null ? null : polesThatFit(recipe, availableM, units);
  return (
    <div className="stack-tight">
      <LengthField
        label="Length of ground you have"
        hint="with room to come and go"
        valueM={availableM}
        units={units}
        placeholder={units === "cm" ? "500" : "200"}
        onChange={setAvailableM}
      />
      {fit === 0 && <span className="small soft">Too short for two poles with room to come and go.</span>}
      {fit !== null && fit > 0 && (
        <button type="button" className="button" disabled={fit === recipe.poles} onClick={() => onFit(fit)}>
          {fit === recipe.poles ? `${fit} poles fit` : `Take the ${fit} poles that fit`}
        </button>
      )}
    </div>
  );
}

interface GapTableProps {
  layout: Layout;
  units: Units;
  onChange(layout: Layout): void;
}

/** Each gap of an uneven row, and where in it a hind foot should land. */
function GapTable({ layout, units, onChange }: GapTableProps) {
  const replace = <T,>(list: readonly T[], at: number, value: T) =>
    list.map((one, i) => (i === at ? value : one));
  return (
    <details className="fold">
      <summary>Gap by gap</summary>
      <div className="stack-tight">
        {layout.gapsM.map((gapM, gap) => {
          const name = `${gap + 1} to ${gap + 2}`;
          const target = Math.round((layout.targetFractions[gap] ?? 0.5) * 100);
          return (
            <div key={name} className="kennel-gap">
              <LengthField
                label={`Pole ${name}`}
                valueM={gapM}
                units={units}
                onChange={(metres) =>
                  sensible(metres) && onChange({ ...layout, gapsM: replace(layout.gapsM, gap, metres) })
                }
              />
              <label className="field">
                <span>
                  Hind foot at <output>{target} %</output>
                  <span className="for-reader-only"> of gap {name}</span>
                </span>
                <input
                  type="range"
                  min={25}
                  max={75}
                  step={5}
                  value={target}
                  onChange={(event) =>
                    onChange({
                      ...layout,
                      targetFractions: replace(layout.targetFractions, gap, Number(event.target.value) / 100),
                    })
                  }
                />
              </label>
            </div>
          );
        })}
      </div>
    </details>
  );
}

/** What to read off one tape laid along the row. */
function TapeList({ layout, units }: { layout: Layout; units: Units }) {
  return (
    <details className="fold">
      <summary>Lay it with one tape</summary>
      <table className="kennel-table">
        <caption className="for-reader-only">Distance of each pole from the first</caption>
        <thead>
          <tr>
            <th scope="col">Pole</th>
            <th scope="col">From the first</th>
            <th scope="col">Height</th>
            {layout.anglesDeg && <th scope="col">Turn</th>}
          </tr>
        </thead>
        <tbody>
          {polePlaces(layout.gapsM).map((at, pole) => (
            <tr key={at}>
              <th scope="row">{pole + 1}</th>
              <td>{spacingText(at, units)}</td>
              <td>
                {(layout.heightsM[pole] ?? 0) === 0
                  ? "ground"
                  : spacingText(layout.heightsM[pole] ?? 0, units)}
              </td>
              {layout.anglesDeg && <td>{layout.anglesDeg[pole] ?? 0}°</td>}
            </tr>
          ))}
        </tbody>
      </table>
    </details>
  );
}

/** A walk pole above the elbow or a trot pole above the hock, as a sentence. */
function heightProblem(layout: Layout, gait: PoleGait, measures: DogMeasures, units: Units): string | null {
  const highest = Math.max(...layout.heightsM);
  const limit = poleCeiling(measures, gait);
  const joint = gait === "walk" ? "elbow" : "hock";
  if (limit === null || highest <= limit) return null;
  return `At a ${gait} no pole above the ${joint} (${spacingText(limit, units)}): lower it.`;
}

/** Stands where a height can't be checked. */
export function MissingCeiling({ gait, measures }: { gait: PoleGait; measures: DogMeasures }) {
  if (poleCeiling(measures, gait) !== null) return null;
  return (
    <Note>
      Measure the floor to the {gait === "walk" ? "elbow" : "hock"}: at a {gait} no pole should stand higher
      than that.
    </Note>
  );
}
