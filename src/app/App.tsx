import { lazy, Suspense } from "react";
import { Route, Router, Switch } from "wouter";
import { useHashLocation } from "wouter/use-hash-location";
import { Home } from "./home/Home.tsx";
import { Mishap } from "./shell/Mishap.tsx";
import { Waiting } from "./shell/Waiting.tsx";

const ClipPath = lazy(() => import("./ClipPath.tsx"));
const KennelRoutes = lazy(() => import("./kennel/KennelRoutes.tsx"));

/** All screens by address. The address is the part after "#", so that any plain file server will do. */
export function App() {
  return (
    <Router hook={useHashLocation}>
      <Mishap>
        <Suspense fallback={<Waiting />}>
          <Switch>
            <Route path="/">
              <Home />
            </Route>
            <Route path="/check/dog/:dogId">{({ dogId }) => <Home dogId={dogId} />}</Route>
            <Route path="/check/session/:sessionId">
              {({ sessionId }) => <Home sessionId={sessionId} />}
            </Route>
            <Route path="/clip/:clipId/:step">
              {({ clipId, step }) => <ClipPath key={clipId} clipId={clipId} step={step} />}
            </Route>
            <Route>
              <KennelRoutes />
            </Route>
          </Switch>
        </Suspense>
      </Mishap>
    </Router>
  );
}
