import { useId, useState } from "react";
import { Link } from "wouter";
import { drawCheckBar, drawCordPiece, pieceCount } from "../../charts/cord-strip.ts";
import { spacingNumber } from "../../charts/layout-plan.ts";
import { type CordMark, cordMarks } from "../../spacing/cord.ts";
import { polePlaces } from "../../spacing/travel.ts";
import type { Layout } from "../../spacing/types.ts";
import { sharedLetters } from "../../store/merge.ts";
import type { Dog, Keeper, Units } from "../../store/types.ts";
import { useKept } from "../keeper.ts";
import { length } from "../lengths.ts";
import { Icon } from "../shell/Icon.tsx";
import { Note } from "../shell/Note.tsx";
import { Screen } from "../shell/Screen.tsx";
import { aimName } from "../verdict/names.ts";
import { isCleared } from "./Clearance.tsx";
import "./cord.css";
import { Markup } from "./Markup.tsx";

async function readCord(from: Keeper) {
  const [dogs, settings] = await Promise.all([from.dogs(), from.settings()]);
  return { dogs, units: settings.units };
}

/** One cord for all dogs: its marks, a strip to print true to scale, and a card for each dog. */
export default function Cord() {
  const kept = useKept(readCord);
  const [left, setLeft] = useState<ReadonlySet<string>>(new Set());
  const dogs = kept.state === "here" ? kept.value.dogs : [];
  const units = kept.state === "here" ? kept.value.units : "cm";
  const lettered = dogs.filter((dog) => dog.plan && dog.letters !== "");
  const planned = lettered.filter(isCleared);
  const waiting = lettered.filter((dog) => !isCleared(dog));
  const chosen = planned.filter((dog) => !left.has(dog.id));
  const { marks, warnings } = cordMarks(
    chosen.map((dog) => ({ letters: dog.letters, gapsM: dog.plan?.layout.gapsM ?? [] })),
    units,
  );
  const toggle = (id: string) =>
    setLeft((before) => {
      const after = new Set(before);
      if (!after.delete(id)) after.add(id);
      return after;
    });
  return (
    <Screen
      title="Cord"
      subtitle="One cord, every dog's spacing"
      back="/dogs"
      actions={
        marks.length > 0 && (
          <button type="button" className="button button-go" onClick={() => window.print()}>
            <Icon name="report" /> Print
          </button>
        )
      }
    >
      <div className="stack cord-not-printed">
        {kept.state === "failed" && <Note weight="stop">{kept.sentence}</Note>}
        <p>
          Loop one end over a pole and stretch the cord to the next one: the dog's letters show where that
          pole goes.
        </p>
        {[...sharedLetters(chosen), ...warnings].map((sentence) => (
          <Note key={sentence} weight="warn">
            {sentence}
          </Note>
        ))}
        {waiting.map((dog) => (
          <Note key={dog.id} weight="warn">
            {dog.name} is not on the cord until a veterinarian has cleared it for pole work.{" "}
            <Link href={`/dogs/${dog.id}/layout`}>To its layout</Link>
          </Note>
        ))}
        {kept.state === "here" && planned.length === 0 && (
          <Note>
            No dog has both letters and a row yet. Plan a row on a dog's Layout screen.{" "}
            <Link href="/dogs">To the dogs</Link>
          </Note>
        )}
        {planned.length > 0 && (
          <fieldset className="kennel-on-cord">
            <legend className="kennel-legend">Dogs on this cord</legend>
            {planned.map((dog) => (
              <label key={dog.id} className="kennel-check">
                <input type="checkbox" checked={!left.has(dog.id)} onChange={() => toggle(dog.id)} />
                <span>
                  {dog.letters} · {dog.name}
                  <span className="soft small">{gapsText(dog, units)}</span>
                </span>
              </label>
            ))}
          </fieldset>
        )}
        {marks.length > 0 && <MarkTable marks={marks} units={units} />}
      </div>
      {marks.length > 0 && <Page marks={marks} dogs={chosen} units={units} />}
    </Screen>
  );
}

function MarkTable({ marks, units }: { marks: CordMark[]; units: Units }) {
  return (
    <section className="sheet" aria-labelledby="marks">
      <h2 id="marks">Marks, from the loop</h2>
      <table className="kennel-table">
        <thead>
          <tr>
            <th scope="col">From the loop</th>
            <th scope="col">Letters</th>
          </tr>
        </thead>
        <tbody>
          {marks.map((mark) => (
            <tr key={mark.letters.join()}>
              <td>
                {spacingNumber(mark.atM, units)} {units}
              </td>
              <td>{mark.letters.join(" ")}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  );
}

/** What comes out of the printer: the check bar, the strip in pieces, a card for each dog. */
function Page({ marks, dogs, units }: { marks: CordMark[]; dogs: Dog[]; units: Units }) {
  const id = useId();
  return (
    <section className="cord-page" aria-label="To print">
      <Markup text={drawCheckBar(`${id}-check`)} />
      <p className="small">
        Print at 100 % ("actual size"). Measure the bar before you cut; if it is not 10 cm long, the strip is
        wrong too.
      </p>
      <div className="cord-strips">
        {Array.from({ length: pieceCount(marks) }, (_, piece) => `${id}-${piece}`).map((pieceId, piece) => (
          <Markup key={pieceId} text={drawCordPiece(marks, piece, units, pieceId)} />
        ))}
      </div>
      <div className="cord-cards">
        {dogs.map((dog) => (
          <DogCard key={dog.id} dog={dog} units={units} />
        ))}
      </div>
    </section>
  );
}

function DogCard({ dog, units }: { dog: Dog; units: Units }) {
  const layout = dog.plan?.layout;
  if (!layout) return null;
  return (
    <article className="cord-card">
      <strong>
        {dog.letters} {dog.name}
      </strong>
      <span>
        {dog.plan?.gait}, {aimName[dog.plan?.aim ?? dog.aim].toLowerCase()}
      </span>
      <span>{gapsText(dog, units)}</span>
      <span className="soft">
        Poles at{" "}
        {polePlaces(layout.gapsM)
          .map((at) => spacingNumber(at, units))
          .join(" · ")}{" "}
        {units}
      </span>
      <span className="soft">{heightsText(layout, units)}</span>
      {aimsPlace(layout) && (
        <span className="soft">
          Hind foot at {layout.targetFractions.map((at) => Math.round(at * 100)).join(" · ")} % of the gaps
        </span>
      )}
      {layout.anglesDeg && (
        <span className="soft">Poles turned by {layout.anglesDeg.map((deg) => `${deg}°`).join(" · ")}</span>
      )}
    </article>
  );
}

/** Some hind foot is to land elsewhere than in the middle of its gap. */
function aimsPlace({ targetFractions }: Layout): boolean {
  return targetFractions.some((at) => Math.abs(at - 0.5) > 0.01);
}

function heightsText({ heightsM }: Layout, units: Units): string {
  const [first = 0] = heightsM;
  if (heightsM.every((height) => height === first)) {
    return first === 0 ? "On the ground" : `${length(first, units)} high`;
  }
  return `Heights ${heightsM.map((height) => spacingNumber(height, units)).join(" · ")} ${units}`;
}

function gapsText(dog: Dog, units: Units): string {
  const gaps = dog.plan?.layout.gapsM ?? [];
  const texts = gaps.map((gap) => spacingNumber(gap, units));
  return new Set(texts).size === 1
    ? `${gaps.length + 1} poles, ${texts[0]} ${units} apart`
    : `${gaps.length + 1} poles, gaps ${texts.join(" · ")} ${units}`;
}
