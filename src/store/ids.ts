/** 128 random bits as 32 hexadecimal digits. Unlike crypto.randomUUID it also works on a page served without TLS. */
export function freshId(): string {
  return Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) =>
    byte.toString(16).padStart(2, "0"),
  ).join("");
}
