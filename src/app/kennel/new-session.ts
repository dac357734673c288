import type { Dog, Keeper, Session } from "../../store/types.ts";

/** A session to write down what was done when nothing was filmed, or to film into. */
export function startSession(keeper: Keeper, dog: Dog | undefined): Promise<Session> {
  return keeper.putSession({
    dogId: dog?.id ?? null,
    dogName: dog?.name ?? "",
    date: Date.now(),
    layout: dog?.plan?.layout ?? null,
    gait: dog?.plan?.gait ?? dog?.gait ?? "walk",
    aim: dog?.plan?.aim ?? dog?.aim ?? "first-poles",
    surface: null,
    handlerSide: null,
    notes: "",
    howDogFelt: null,
    knocksSeen: null,
    judgement: null,
  });
}
