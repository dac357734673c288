import { type ReactNode, useEffect, useRef } from "react";
import { Link } from "wouter";
import { Icon } from "./Icon.tsx";
import "./screen.css";

interface ScreenProps {
  title: string;
  /** Where the arrow at the top goes; none on the first screen. */
  back?: string | undefined;
  /** Beside the title: which dog, which day. */
  subtitle?: string | undefined;
  /** Under the top bar, over everything: the path bar. */
  path?: ReactNode;
  /** Small things at the right of the top bar. */
  tools?: ReactNode;
  /** Always at the thumb: fixed to the bottom on a phone, to the foot of the side panel on a desk. */
  actions?: ReactNode;
  /** The large thing to look at; left on a desk, on top on a phone. Without it the screen is one column. */
  picture?: ReactNode;
  children: ReactNode;
}

/** The frame of every screen. Puts the screen's name into the window's title and the focus on its heading. */
export function Screen({ title, back, subtitle, path, tools, actions, picture, children }: ScreenProps) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => {
    document.title = title === "Pawgap" ? "Pawgap" : `${title} · Pawgap`;
    heading.current?.focus({ preventScroll: true });
    window.scrollTo(0, 0);
  }, [title]);
  return (
    <div className={`screen ${picture ? "screen-with-picture" : ""}`}>
      <header className="screen-top">
        {back !== undefined && (
          <Link href={back} className="button button-quiet button-icon" aria-label="Back">
            <Icon name="back" />
          </Link>
        )}
        <div className="screen-name">
          <h1 ref={heading} tabIndex={-1}>
            {title}
          </h1>
          {subtitle && <p className="soft small">{subtitle}</p>}
        </div>
        {tools && <div className="screen-tools">{tools}</div>}
      </header>
      {path}
      <main className="screen-body">
        {picture && <div className="screen-picture">{picture}</div>}
        <div className="screen-panel">
          <div className="screen-scroll stack">{children}</div>
          {actions && <div className="screen-actions">{actions}</div>}
        </div>
      </main>
    </div>
  );
}
