import type { History } from "../history.ts";
import { Icon } from "./Icon.tsx";

interface UndoRedoProps {
  history: History<unknown>;
  onUndo(): void;
  onRedo(): void;
}

/** The two arrows at the thumb. */
export function UndoRedo({ history, onUndo, onRedo }: UndoRedoProps) {
  return (
    <>
      <button
        type="button"
        className="button button-icon"
        aria-label="Undo"
        disabled={history.past.length === 0}
        onClick={onUndo}
      >
        <Icon name="undo" />
      </button>
      <button
        type="button"
        className="button button-icon"
        aria-label="Redo"
        disabled={history.future.length === 0}
        onClick={onRedo}
      >
        <Icon name="redo" />
      </button>
    </>
  );
}

/** What Ctrl or Cmd with Z or Y asks for; null for every other key. */
export function undoKey(event: {
  key: string;
  ctrlKey: boolean;
  metaKey: boolean;
  shiftKey: boolean;
}): "undo" | "redo" | null {
  if (!event.ctrlKey && !event.metaKey) return null;
  const key = event.key.toLowerCase();
  if (key === "z") return event.shiftKey ? "redo" : "undo";
  return key === "y" ? "redo" : null;
}
