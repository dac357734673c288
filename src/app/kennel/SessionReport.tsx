import Report from "../report/Report.tsx";
import type { ScreenParams } from "./routes.tsx";

/** The report of a session, reached from the session itself. */
export default function SessionReport({ sessionId = "" }: ScreenParams) {
  return <Report sessionId={sessionId} back={`/sessions/${sessionId}`} />;
}
