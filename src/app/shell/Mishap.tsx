import { Component, lazy, type ReactNode, Suspense } from "react";
import { noteError } from "../problem/trail.ts";
import { Note } from "./Note.tsx";
import { Screen } from "./Screen.tsx";

const ProblemReport = lazy(() =>
  import("../problem/ProblemReport.tsx").then((loaded) => ({ default: loaded.ProblemReport })),
);

/** Catches what no screen expected, and offers a way on. What is kept on the device is not touched by it. */
export class Mishap extends Component<{ children: ReactNode }, { error: Error | null }> {
  override state: { error: Error | null } = { error: null };

  static getDerivedStateFromError(error: Error) {
    return { error };
  }

  override componentDidCatch(error: Error) {
    noteError(error);
  }

  override render() {
    const { error } = this.state;
    if (!error) return this.props.children;
    return (
      <Screen title="This screen stopped">
        <Note weight="stop">
          Something went wrong that this program did not expect. What you had marked is kept. Open it again
          from the first screen.
        </Note>
        <Suspense>
          <ProblemReport sentence={error.message} />
        </Suspense>
        <button
          type="button"
          className="button button-go"
          onClick={() => {
            window.location.hash = "#/";
            this.setState({ error: null });
          }}
        >
          To the first screen
        </button>
      </Screen>
    );
  }
}
