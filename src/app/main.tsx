import { createRoot } from "react-dom/client";
import { App } from "./App.tsx";
import { keepForOffline } from "./offline/keep.ts";
import { followSteps } from "./problem/trail.ts";
import "./theme.css";

followSteps();
const root = document.getElementById("root");
if (!root) throw new Error("index.html has lost its #root.");
createRoot(root).render(<App />);
keepForOffline();
