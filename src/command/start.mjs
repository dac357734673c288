// `npm start`: installs if needed, builds if needed, serves, and opens the app on the demo.
import { spawn } from "node:child_process";
import { buildIfNeeded, installIfNeeded } from "./prepare.mjs";

try {
  installIfNeeded();
  buildIfNeeded();
  const { serveSite } = await import("./site.mjs");
  const site = await serveSite({ port: Number(process.env.PORT) || 4173 });
  console.log(
    `\nPawgap is at ${site.url}\nOne click on "Try the demo clip" runs the whole job. Stop with Ctrl-C.\n`,
  );
  if (process.stdout.isTTY && !process.env.CI) open(site.url);
} catch (error) {
  console.error(error instanceof Error ? error.message : error);
  process.exit(1);
}

/** Opens the system's browser; the printed address is enough where there is none. */
function open(url) {
  const [command, args] =
    process.platform === "darwin"
      ? ["open", [url]]
      : process.platform === "win32"
        ? ["cmd", ["/c", "start", "", url]]
        : ["xdg-open", [url]];
  spawn(command, args, { stdio: "ignore", detached: true })
    .on("error", () => {})
    .unref();
}
