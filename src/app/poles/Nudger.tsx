import { Icon } from "../shell/Icon.tsx";

interface NudgerProps {
  label: string;
  /** Image pixels. */
  onNudge(dx: number, dy: number): void;
  onRemove(): void;
}

const ways = [
  { icon: "left", name: "left", dx: -1, dy: 0 },
  { icon: "up", name: "up", dx: 0, dy: -1 },
  { icon: "down", name: "down", dx: 0, dy: 1 },
  { icon: "right", name: "right", dx: 1, dy: 0 },
] as const;

/** Moves the chosen mark by a pixel at a time, for fingers; the arrow keys do the same. */
export function Nudger({ label, onNudge, onRemove }: NudgerProps) {
  return (
    <div className="nudger">
      <span>{label}</span>
      <div className="nudger-keys">
        {ways.map(({ icon, name, dx, dy }) => (
          <button
            key={name}
            type="button"
            className="button button-icon"
            aria-label={`One pixel ${name}`}
            onClick={() => onNudge(dx, dy)}
          >
            <Icon name={icon} />
          </button>
        ))}
        <button
          type="button"
          className="button button-icon button-stop"
          aria-label="Take this mark away"
          onClick={onRemove}
        >
          <Icon name="bin" />
        </button>
      </div>
    </div>
  );
}
