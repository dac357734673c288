import { type Ref, useCallback, useEffect, useImperativeHandle, useRef, useState } from "react";

const STYLE = /<style>([\s\S]*?)<\/style>/;

export interface PrintableSheet {
  print(): void;
}

/**
 * The report as it will be printed, in a frame of its own so that its page rules and those of the app do not mix.
 * The page is put in node by node with a constructed style sheet, which works under a strict Content-Security-Policy.
 */
export function ReportSheet({ html, ref }: { html: string; ref: Ref<PrintableSheet> }) {
  const frame = useRef<HTMLIFrameElement>(null);
  const [heightPx, setHeightPx] = useState(1200);
  const [loaded, setLoaded] = useState(0);
  useImperativeHandle(ref, () => ({ print: () => frame.current?.contentWindow?.print() }), []);
  const onLoad = useCallback(() => setLoaded((times) => times + 1), []);

  useEffect(() => {
    const view = frame.current?.contentWindow;
    const page = frame.current?.contentDocument;
    // `loaded` counts: a frame that loads anew has lost its page.
    if (!view || !page?.body || loaded < 0) return;
    // The policy watches parsed pages too: the style sheet is taken out before.
    const [element = "", css = ""] = STYLE.exec(html) ?? [];
    const made = new DOMParser().parseFromString(html.replace(element, ""), "text/html");
    const sheet = new (view as Window & typeof globalThis).CSSStyleSheet();
    sheet.replaceSync(css);
    page.adoptedStyleSheets = [sheet];
    page.title = made.title;
    page.documentElement.lang = "en";
    page.body.className = made.body.className;
    page.body.replaceChildren(...page.adoptNode(made.body).childNodes);
    const measure = () => setHeightPx(Math.ceil(page.documentElement.getBoundingClientRect().height));
    const watcher = new ResizeObserver(measure);
    watcher.observe(page.documentElement);
    return () => watcher.disconnect();
  }, [html, loaded]);

  return (
    <iframe
      ref={frame}
      className="report-sheet"
      title="The report"
      // No scripts can run inside; printing and measuring it from here need the two permissions.
      sandbox="allow-same-origin allow-modals"
      height={heightPx}
      onLoad={onLoad}
    />
  );
}
