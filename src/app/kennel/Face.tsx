import type { Dog } from "../../store/types.ts";

/** The dog's picture, or its letters. */
export function Face({ dog, size = 52 }: { dog: Pick<Dog, "photo" | "letters">; size?: number }) {
  const box = { width: size, height: size, fontSize: size * 0.36 };
  return dog.photo ? (
    <img className="kennel-face" src={dog.photo} alt="" style={box} />
  ) : (
    <span className="kennel-face" aria-hidden="true" style={box}>
      {dog.letters || "?"}
    </span>
  );
}
