// verify.mjs SECRET ID TIMESTAMP SIGNATURES < BODY   ends with 0 if the message is to be believed
import { createHmac, timingSafeEqual } from "node:crypto";
import { readFileSync } from "node:fs";
import { pathToFileURL } from "node:url";

export function isOurs(secret, id, timestamp, signatures, body) {
  if (!(Math.abs(Date.now() / 1000 - Number(timestamp)) <= 300)) return false; // recorded, or from the future
  const key = Buffer.from(secret.replace(/^whsec_/, ""), "base64");
  const hmac = createHmac("sha256", key).update(`${id}.${timestamp}.`).update(body); // the bytes as they came
  const wanted = Buffer.from(`v1,${hmac.digest("base64")}`);
  return signatures.split(" ").some((text) => {
    const given = Buffer.from(text);
    return given.length === wanted.length && timingSafeEqual(given, wanted);
  });
}

if (import.meta.url === pathToFileURL(process.argv[1]).href) process.exit(isOurs(...process.argv.slice(2, 6), readFileSync(0)) ? 0 : 1);
