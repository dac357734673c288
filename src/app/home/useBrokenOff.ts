import { useEffect, useState } from "react";

const none: ReadonlySet<string> = new Set();

/** Ids of clips whose analysis was begun and never ended: the page was closed or killed. */
export function useBrokenOff(): ReadonlySet<string> {
  const [ids, setIds] = useState(none);
  useEffect(() => {
    import("../../store/work.ts")
      .then(({ openWork }) => openWork())
      .then((work) => work.begun())
      .then(setIds, () => {});
  }, []);
  return ids;
}
