import { Screen } from "./Screen.tsx";

/** Shown while a screen's code or data is on its way. */
export function Waiting({ title = "Pawgap" }: { title?: string }) {
  return (
    <Screen title={title}>
      <p role="status" className="soft">
        One moment …
      </p>
    </Screen>
  );
}
