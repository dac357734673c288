interface Lettered {
  name: string;
  letters: string;
}

/** Letters for a new dog from its name, free of those that others carry. */
export function suggestLetters(name: string, others: readonly Lettered[]): string {
  const taken = new Set(others.map((dog) => dog.letters.toUpperCase()));
  const own = [...name.toUpperCase().replace(/[^\p{L}\p{N}]/gu, "")];
  const [first] = own;
  if (first === undefined) return "";
  const tries = [
    first + (own[1] ?? ""),
    ...own.slice(2).map((letter) => first + letter),
    own.slice(0, 3).join(""),
  ];
  for (let number = 2; number < 100; number++) tries.push(`${first}${number}`);
  return tries.find((letters) => !taken.has(letters)) ?? "";
}

/** What is wrong with a dog's letters, as a sentence; null when nothing is. */
export function lettersProblem(letters: string, others: readonly Lettered[]): string | null {
  if (letters === "") return "Without letters this dog gets no mark on the cord.";
  const twin = others.find((dog) => dog.letters.toUpperCase() === letters.toUpperCase());
  return twin ? `${twin.name} already carries ${letters}. Give this dog other letters.` : null;
}
