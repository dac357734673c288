import { Icon } from "../shell/Icon.tsx";
import type { Sheet } from "./useSheet.ts";

/** What is always at the thumb on a report. */
export function SheetActions({ sheet }: { sheet: Sheet }) {
  return (
    <>
      {sheet.share && (
        <button type="button" className="button" onClick={() => void sheet.share?.()}>
          <Icon name="up" /> Share
        </button>
      )}
      <button type="button" className="button button-go" onClick={() => sheet.ref.current?.print()}>
        <Icon name="report" /> Print or save as PDF
      </button>
    </>
  );
}
