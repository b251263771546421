# verify.py SECRET ID TIMESTAMP SIGNATURES < BODY   ends with 0 if the message is to be believed
import base64, hashlib, hmac, sys, time


def is_ours(secret: str, id: str, timestamp: str, signatures: str, body: bytes) -> bool:
    if not (timestamp.isascii() and timestamp.isdigit()) or abs(time.time() - int(timestamp)) > 300:
        return False  # too old, or from the future: somebody sends a recorded message again
    key = base64.b64decode(secret.removeprefix("whsec_"))
    signed = f"{id}.{timestamp}.".encode() + body  # the bytes as they came, before any parser
    wanted = base64.b64encode(hmac.new(key, signed, hashlib.sha256).digest()).decode()
    return any(hmac.compare_digest(given.encode(), f"v1,{wanted}".encode()) for given in signatures.split())


if __name__ == "__main__":
    sys.exit(0 if is_ours(*sys.argv[1:5], sys.stdin.buffer.read()) else 1)
