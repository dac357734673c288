import { useMemo } from "react";
import { renderNaturalPage } from "../../report/natural-page.ts";
import { toNaturalJson } from "../../report/natural-result.ts";
import { cautions } from "../../spacing/cautions.ts";
import type { Session } from "../../store/types.ts";
import { naturalStepOf } from "../judging.ts";
import { Note } from "../shell/Note.tsx";
import { Screen } from "../shell/Screen.tsx";
import type { ReportRecords } from "./matter.ts";
import type { ReportFrame } from "./Report.tsx";
import { ReportSheet } from "./ReportSheet.tsx";
import { SheetActions } from "./SheetActions.tsx";
import { download, fileStem } from "./takeaway.ts";
import { useSheet } from "./useSheet.ts";

interface NaturalReportProps {
  session: Session;
  records: ReportRecords;
  frame: ReportFrame;
}

/** The report of a session over bare ground. */
export function NaturalReport({ session, records, frame }: NaturalReportProps) {
  const { dog, clips, settings } = records;
  const natural = useMemo(
    () => naturalStepOf(session, clips, settings.units),
    [session, clips, settings.units],
  );
  const html = useMemo(
    () =>
      renderNaturalPage({
        natural,
        dog: { name: dog?.name ?? session.dogName },
        session,
        practitioner: { name: settings.practitioner, practice: settings.practice, logo: settings.logo },
        cautions: (dog?.cautions ?? []).map((id) => cautions[id].sentence),
        units: settings.units,
      }),
    [natural, dog, session, settings],
  );
  const stem = fileStem({ session, dog });
  const sheet = useSheet(html, `${stem}-natural-step.html`);
  const takeJson = () => {
    const text = JSON.stringify(toNaturalJson(natural, session.gait), null, 2);
    download(new Blob([text], { type: "application/json" }), `${stem}-natural-step.json`);
  };
  return (
    <Screen title="Report" back="/" {...frame} actions={<SheetActions sheet={sheet} />}>
      {sheet.problem && <Note weight="stop">{sheet.problem}</Note>}
      <div className="report-desk">
        <section className="stack-tight" aria-labelledby="takeaways">
          <h2 id="takeaways">Take it along</h2>
          <div className="takeaways">
            <button
              type="button"
              className="button takeaway"
              onClick={() => download(sheet.file(), sheet.file().name)}
            >
              <span>
                Report page<small>opens in any browser</small>
              </span>
            </button>
            <button type="button" className="button takeaway" onClick={takeJson}>
              <span>
                All numbers<small>JSON for other programs</small>
              </span>
            </button>
          </div>
        </section>
        <ReportSheet ref={sheet.ref} html={html} />
      </div>
    </Screen>
  );
}
