import { Note } from "../shell/Note.tsx";
import { Screen } from "../shell/Screen.tsx";

/** Stands in for a record that is not on this device, or that could not be read. */
export function NotHere({ title, back, sentence }: { title: string; back: string; sentence?: string }) {
  return (
    <Screen title={title} back={back}>
      <Note weight="stop">
        {sentence ??
          "It is not on this device. It may have been removed, or the link is from another device."}
      </Note>
    </Screen>
  );
}
