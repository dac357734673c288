/**
 * Lets the app start without a network after this visit. A newer version waits until every window of the old one
 * is closed: nobody's session is interrupted.
 */
export function keepForOffline(): void {
  if (!import.meta.env.PROD || !("serviceWorker" in navigator)) return;
  addEventListener("load", () => {
    // Private windows and some hosts refuse; the app works all the same, only not without a network.
    navigator.serviceWorker.register(new URL("sw.js", document.baseURI)).catch(() => {});
  });
}
