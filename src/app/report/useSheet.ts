import { type RefObject, useMemo, useRef, useState } from "react";
import { sentenceOf } from "../keeper.ts";
import type { PrintableSheet } from "./ReportSheet.tsx";

export interface Sheet {
  ref: RefObject<PrintableSheet | null>;
  file(): File;
  /** null where this device has no share sheet for a page. */
  share: (() => Promise<void>) | null;
  problem: string | null;
}

/** A report's page: to print, and to hand to the device's share sheet. */
export function useSheet(html: string, fileName: string): Sheet {
  const ref = useRef<PrintableSheet>(null);
  const [problem, setProblem] = useState<string | null>(null);
  const canShare = useMemo(
    () => navigator.canShare?.({ files: [new File(["<p>"], "report.html", { type: "text/html" })] }) ?? false,
    [],
  );
  const file = () => new File([html], fileName, { type: "text/html" });
  const share = async () => {
    setProblem(null);
    try {
      await navigator.share({ title: document.title, files: [file()] });
    } catch (error) {
      // Closing the sheet without sharing is no failure.
      if (!(error instanceof DOMException && error.name === "AbortError")) setProblem(sentenceOf(error));
    }
  };
  return { ref, file, share: canShare ? share : null, problem };
}
