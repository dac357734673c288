import { type ComponentType, type LazyExoticComponent, lazy, Suspense } from "react";
import { Link, Route, Switch } from "wouter";
import { Screen } from "../shell/Screen.tsx";
import { Waiting } from "../shell/Waiting.tsx";
import { kennelRoutes, type ScreenParams } from "./routes.tsx";
import "./kennel.css";

const screens = kennelRoutes.map(
  ({ path, title, load }): [string, string, LazyExoticComponent<ComponentType<ScreenParams>>] => [
    path,
    title,
    lazy(load),
  ],
);

export default function KennelRoutes() {
  return (
    <Switch>
      {screens.map(([path, title, Show]) => (
        <Route key={path} path={path}>
          {(params: ScreenParams) => (
            <Suspense fallback={<Waiting title={title} />}>
              <Show key={params.dogId ?? params.sessionId ?? ""} {...params} />
            </Suspense>
          )}
        </Route>
      ))}
      <Route>
        <Screen title="No such page" back="/">
          <p>There is nothing at this address.</p>
          <Link href="/" className="button button-go">
            To the first screen
          </Link>
        </Screen>
      </Route>
    </Switch>
  );
}
