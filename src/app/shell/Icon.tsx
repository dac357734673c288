import type { ReactElement } from "react";

const drawings = {
  back: <path d="M14.5 5 7.5 12l7 7" />,
  next: <path d="m9.5 5 7 7-7 7" />,
  close: <path d="m6 6 12 12M18 6 6 18" />,
  plus: <path d="M12 5v14M5 12h14" />,
  minus: <path d="M5 12h14" />,
  check: <path d="m5 12.5 4.5 4.5L19 7.5" />,
  undo: <path d="M8.5 5 4.5 9l4 4M5 9h8.500a5 5 0 0 1 0 10H9" />,
  redo: <path d="m15.5 5 4 4-4 4M19 9h-8.5a5 5 0 0 0 0 10H15" />,
  bin: <path d="M5 7h14M10 4h4M7 7l1 13h8l1-13M10.5 11v5M13.5 11v5" />,
  film: <path d="M4 6h16v12H4zM8 6v12M16 6v12M4 10h4M4 14h4M16 10h4M16 14h4" />,
  camera: <path d="M3.5 8h4L9 5.5h6L16.5 8h4v11h-17zM12 16.5a3.3 3.3 0 1 0 0-6.6 3.3 3.3 0 0 0 0 6.6z" />,
  play: <path d="M8 5.5v13l10.5-6.5z" fill="currentColor" />,
  pause: <path d="M8.5 6v12M15.5 6v12" strokeWidth="3" />,
  "frame-back": <path d="M16 6v12l-8-6zM6.5 6v12" />,
  "frame-on": <path d="M8 6v12l8-6zM17.5 6v12" />,
  "zoom-in": <path d="M10.5 17a6.5 6.5 0 1 0 0-13 6.5 6.5 0 0 0 0 13zM15.5 15.5 20 20M10.5 8v5M8 10.5h5" />,
  "zoom-out": <path d="M10.5 17a6.5 6.5 0 1 0 0-13 6.5 6.5 0 0 0 0 13zM15.5 15.5 20 20M8 10.5h5" />,
  fit: <path d="M4 9V4h5M15 4h5v5M20 15v5h-5M9 20H4v-5" />,
  snap: <path d="M7 4v7a5 5 0 0 0 10 0V4h-3.5v7a1.5 1.5 0 0 1-3 0V4zM7 7.5h3.500M13.5 7.5H17M12 18.5V21" />,
  grid: <path d="M6.5 5h11L21 19H3zM12 5v14M5.2 10h13.600M4.3 14.5h15.400M9.2 5 7.5 19M14.8 5l1.7 14" />,
  poles: <path d="M5 19 8 5M10.3 19l1-14M15.7 19l-1-14M19 19 16 5" />,
  paw: (
    <path
      d="M12 12.2c2.3 0 4.3 2.4 4.3 4.6 0 1.5-1.1 2.2-2.2 2.2-.8 0-1.3-.4-2.1-.4s-1.3.4-2.1.4c-1.1 0-2.2-.7-2.2-2.2 0-2.2 2-4.6 4.3-4.6zM6.8 9.4c.8 0 1.4.9 1.4 2s-.6 2-1.4 2-1.4-.9-1.4-2 .6-2 1.4-2zM10 5.4c.8 0 1.4 1 1.4 2.2S10.8 9.8 10 9.8s-1.4-1-1.4-2.2.6-2.2 1.4-2.2zM14 5.4c.8 0 1.4 1 1.4 2.2s-.6 2.2-1.4 2.2-1.4-1-1.4-2.2.6-2.2 1.4-2.2zM17.2 9.4c.8 0 1.4.9 1.4 2s-.6 2-1.4 2-1.4-.9-1.4-2 .6-2 1.4-2z"
      fill="currentColor"
      stroke="none"
    />
  ),
  dog: (
    <path d="M4.5 19v-6.5l-1-3.5M4.5 12.5h9.500l2-5.5 1.5 1.5h2.500v2.500l-2.5 1.5-1 2.5V19M8 19v-4M14 19v-3.5" />
  ),
  home: <path d="M4 11.5 12 5l8 6.5M6.5 10v9h11v-9" />,
  ruler: <path d="M3.5 15.5 15.5 3.5l5 5-12 12zM7.5 11.5l2 2M10.5 8.5l2.5 2.5M13.5 5.5l2 2" />,
  cord: <path d="M3 8c4-4 6 8 10 4s5-6 8-3M8 10v5M14 9v5" />,
  report: <path d="M6 3.5h8.500L18 7v13.500H6zM9 11h6M9 14.5h6M9 7.5h3" />,
  warn: <path d="M12 4 21 19.5H3zM12 10v4.500M12 17v.4" />,
  info: <path d="M12 20.5a8.5 8.5 0 1 0 0-17 8.5 8.5 0 0 0 0 17zM12 11v5.500M12 7.7v.4" />,
  stop: <path d="M8.3 3.5h7.400l4.8 4.8v7.400l-4.8 4.8H8.300l-4.8-4.8V8.300zM9 9l6 6M15 9l-6 6" />,
  gear: (
    <path d="M12 15.2a3.2 3.2 0 1 0 0-6.4 3.2 3.2 0 0 0 0 6.4zM12 3.5v2.700M12 17.8v2.700M3.5 12h2.700M17.8 12h2.700M6 6l1.9 1.9M16.1 16.1 18 18M18 6l-1.9 1.9M7.9 16.1 6 18" />
  ),
  up: <path d="m5.5 14.5 6.5-6.5 6.5 6.5" />,
  down: <path d="m5.5 9.5 6.5 6.5 6.5-6.5" />,
  left: <path d="M14.5 5.5 8 12l6.5 6.5" />,
  right: <path d="m9.5 5.5 6.5 6.5-6.5 6.5" />,
  edit: <path d="M5 19l1-4L16 5l3 3L9 18zM14 7l3 3" />,
  chart: <path d="M4 20V4M4 20h16M8 16l3.5-5 3 2.5L19 7" />,
} satisfies Record<string, ReactElement>;

export type IconName = keyof typeof drawings;

/** One drawing of our own set, 24 × 24, in the colour of the text around it. Silent to screen readers. */
export function Icon({ name, size = 24 }: { name: IconName; size?: number }) {
  return (
    <svg
      width={size}
      height={size}
      viewBox="0 0 24 24"
      fill="none"
      stroke="currentColor"
      strokeWidth={2}
      strokeLinecap="round"
      strokeLinejoin="round"
      aria-hidden="true"
      focusable="false"
      style={{ flex: "none" }}
    >
      {drawings[name]}
    </svg>
  );
}
