import { useCallback } from "react";

/** A finished drawing in the size that it asks for. */
export function Markup({ text }: { text: string }) {
  const show = useCallback(
    (box: HTMLDivElement | null) => {
      box?.replaceChildren(new DOMParser().parseFromString(text, "image/svg+xml").documentElement);
    },
    [text],
  );
  return <div ref={show} />;
}
