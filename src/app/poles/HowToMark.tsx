import { Icon } from "../shell/Icon.tsx";

export function HowToMark() {
  return (
    <details className="fold">
      <summary>
        <Icon name="info" /> How to mark
      </summary>
      <ol className="stack-tight">
        <li>Choose a frame on which the poles can be seen well.</li>
        <li>
          Tap the poles in the order of the row, from one end to the other: first the near end (nearer to the
          camera, lower in the picture), then the far end. One end is enough where the other can't be seen.
          After one pole or two the program finds the others; look closer and drag any end that is off.
        </li>
        <li>Pinch to look closer. A glass shows what is under your finger; drag a mark to correct it.</li>
        <li>
          The grid must lie on the ground along the poles. Where it does not, a tap or a distance is wrong.
        </li>
        <li>
          Keyboard: Enter shows a cross, arrow keys move it (Shift: far), Enter marks. Then arrow keys nudge
          the mark by 1 pixel (Shift: 10), Delete takes it away, Ctrl+Z undoes.
        </li>
      </ol>
    </details>
  );
}
