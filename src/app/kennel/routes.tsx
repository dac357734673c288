import type { ComponentType } from "react";

/** Parameters of an address, by name. */
export type ScreenParams = Partial<Record<"dogId" | "sessionId", string>>;

export interface KennelRoute {
  /** Address after the "#"; a part that starts with a colon is a parameter given to the screen. */
  path: string;
  title: string;
  load(): Promise<{ default: ComponentType<ScreenParams> }>;
}

/** The screens around the clip. The first path that fits an address counts. */
export const kennelRoutes: KennelRoute[] = [
  { path: "/dogs", title: "Dogs", load: () => import("./Dogs.tsx") },
  { path: "/dogs/new", title: "A new dog", load: () => import("./DogForm.tsx") },
  { path: "/dogs/:dogId", title: "Dog", load: () => import("./Dog.tsx") },
  { path: "/dogs/:dogId/edit", title: "About the dog", load: () => import("./DogForm.tsx") },
  { path: "/dogs/:dogId/layout", title: "Layout", load: () => import("./Layout.tsx") },
  { path: "/dogs/:dogId/sessions", title: "Sessions", load: () => import("./Sessions.tsx") },
  { path: "/dogs/:dogId/progress", title: "Progress", load: () => import("./Progress.tsx") },
  { path: "/cord", title: "Cord", load: () => import("./Cord.tsx") },
  { path: "/sessions", title: "Sessions", load: () => import("./Sessions.tsx") },
  { path: "/sessions/:sessionId", title: "Session", load: () => import("./SessionDetails.tsx") },
  { path: "/sessions/:sessionId/report", title: "Report", load: () => import("./SessionReport.tsx") },
  { path: "/settings", title: "Settings", load: () => import("./Settings.tsx") },
];
