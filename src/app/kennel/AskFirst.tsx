import { type ReactNode, useState } from "react";
import { Note } from "../shell/Note.tsx";

interface AskFirstProps {
  /** On the button that asks, and how it looks. */
  children: ReactNode;
  quiet?: boolean;
  /** What will be gone, and what stays. */
  warning: string;
  yes: string;
  no: string;
  act(): Promise<unknown>;
}

/** A button for what can't be taken back: it is done once it was said twice. */
export function AskFirst({ children, quiet = false, warning, yes, no, act }: AskFirstProps) {
  const [asking, setAsking] = useState(false);
  if (!asking) {
    const look = quiet ? "button button-quiet button-stop" : "button";
    return (
      <button type="button" className={look} onClick={() => setAsking(true)}>
        {children}
      </button>
    );
  }
  return (
    <div className="stack-tight">
      <Note weight="warn">{warning}</Note>
      <div className="kennel-answers">
        <button
          type="button"
          className="button button-stop"
          onClick={async () => {
            await act();
            setAsking(false);
          }}
        >
          {yes}
        </button>
        <button type="button" className="button" onClick={() => setAsking(false)}>
          {no}
        </button>
      </div>
    </div>
  );
}
