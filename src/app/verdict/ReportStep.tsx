import { useEffect } from "react";
import { useBench } from "../bench.ts";
import Report from "../report/Report.tsx";
import { PathOf, subtitleOf } from "../shell/clip-frame.tsx";

/** The report of the session as the last step of a clip. It reads what is kept, so the bench is kept first. */
export default function ReportStep() {
  const [state, bench] = useBench();
  useEffect(() => {
    void bench.keep();
  }, [bench]);
  return (
    <Report
      sessionId={state.session.id}
      back={`/clip/${state.clip.id}/verdict`}
      subtitle={subtitleOf(state)}
      path={<PathOf state={state} current="report" />}
    />
  );
}
