"""The peer: what a good Python service of the same kind would be, at its least.

FastAPI, SQLAlchemy 2 with an asynchronous driver, uvicorn with uvloop and httptools, one process. It is spared much of
what the service does: no token, no log, no schema of the answer, no planning and no pricing; a stored document is sent
as it is, and what a plan or a completion says comes from a sample. The rows that it writes are as many and as long.
"""

import json
import os
import time
import uuid
from datetime import datetime, timezone
from pathlib import Path

from fastapi import FastAPI, HTTPException, Response
from pydantic import BaseModel, ConfigDict
from sqlalchemy import BigInteger, DateTime, LargeBinary, MetaData, Table, Column, Text, Uuid, event, insert, select, update
from sqlalchemy.ext.asyncio import create_async_engine

URL = os.environ["PEER_DATABASE_URL"]
SAMPLE = json.loads(Path(os.environ["PEER_SAMPLE"]).read_text())
ON_SQLITE = URL.startswith("sqlite")


def key(text_or_uuid):
    """An id as the database has it: 16 bytes on SQLite."""
    value = uuid.UUID(str(text_or_uuid).split("_")[-1])
    return value.bytes if ON_SQLITE else value


def moment():
    now = datetime.now(timezone.utc)
    return now.isoformat() if ON_SQLITE else now


def new_id():
    """A version 7 UUID, as the service makes them: they are inserted at the end of the index."""
    head = int(time.time() * 1000) << 80 | 7 << 76 | 2 << 62
    return key(uuid.UUID(int=head | uuid.uuid4().int & ((1 << 76) - 1) & ~(0b11 << 62)))


def table(name, **kinds):
    types = {
        "id": LargeBinary if ON_SQLITE else Uuid,
        "text": Text,
        "number": BigInteger,
        "moment": Text if ON_SQLITE else DateTime(timezone=True),
        "bytes": LargeBinary,
    }
    return Table(name, METADATA, *(Column(column, types[kind]) for kind, columns in kinds.items() for column in columns.split()))


METADATA = MetaData()
SURFACES = table("surfaces", id="tenant_id id site_id", number="version", text="document")
PLANS = table(
    "plans",
    id="tenant_id id site_id surface_id rate_card_id",
    number="surface_version version area_mm2 net_amount",
    text="status goal verdict process knowledge_version currency request_document document planned_on",
    moment="created_at changed_at",
)
PLAN_LINES = table(
    "plan_lines", id="tenant_id plan_id", number="line_no seconds ml amount", text="kind stage product_class"
)
COMPLETIONS = table(
    "completions",
    id="tenant_id id site_id surface_id rate_card_id",
    number="rate_card_number area_mm2 planned_share_ppm",
    text="status process month currency document deviation_state deviations",
    moment="started_at finished_at created_at changed_at",
)
COMPLETION_LINES = table(
    "completion_lines",
    id="tenant_id completion_id site_id surface_id",
    number="line_no rate_card_number planned_seconds actual_seconds planned_ml actual_ml planned_amount computed_amount actual_amount",
    text="storey material process stage product_class kind month currency",
)
OUTBOX = table("outbox", id="tenant_id id", text="type subject payload", number="version", moment="created_at")
HISTORY = table("surface_history", id="tenant_id id surface_id", text="kind subject statement", number="version", moment="at created_at")
KEYS = table(
    "idempotency_keys", id="tenant_id", text="client_id key fingerprint headers", number="status", bytes="body", moment="created_at"
)

if ON_SQLITE:
    ENGINE = create_async_engine(URL, pool_size=4)
    WRITER = create_async_engine(URL, pool_size=1, max_overflow=0)

    def settings(connection, _record):
        # The driver must begin no transaction of its own: a write begins with the lock, as the service's does.
        connection.isolation_level = None
        for pragma in ["journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON", "busy_timeout = 5000"]:
            connection.execute(f"PRAGMA {pragma}")

    event.listen(ENGINE.sync_engine, "connect", settings)
    event.listen(WRITER.sync_engine, "connect", settings)
    event.listen(WRITER.sync_engine, "begin", lambda connection: connection.exec_driver_sql("BEGIN IMMEDIATE"))
else:
    ENGINE = WRITER = create_async_engine(URL, pool_size=8, max_overflow=0)

TENANT, SITE, RATE_CARD = key(SAMPLE["tenant_id"]), key(SAMPLE["site_id"]), key(SAMPLE["rate_card_id"])
app = FastAPI()


class Request(BaseModel):
    """A plan is wished for a surface; a completion reports work on one. The rest is read and not looked at."""

    model_config = ConfigDict(extra="allow")
    surface_id: str


def answer(document, status=200):
    return Response(document, status, media_type="application/json")


@app.get("/v1/surfaces/{surface_id}")
async def surface(surface_id: str):
    one = select(SURFACES.c.version, SURFACES.c.document)
    one = one.where(SURFACES.c.tenant_id == TENANT, SURFACES.c.id == key(surface_id))
    async with ENGINE.connect() as connection:
        row = (await connection.execute(one)).one_or_none()
    if row is None:
        raise HTTPException(404)
    return answer(row.document)


@app.get("/v1/surfaces")
async def surfaces(site_id: str, limit: int = 50):
    page = select(SURFACES.c.id, SURFACES.c.document).where(SURFACES.c.tenant_id == TENANT, SURFACES.c.site_id == key(site_id))
    async with ENGINE.connect() as connection:
        rows = (await connection.execute(page.order_by(SURFACES.c.id).limit(limit + 1))).all()
    items = ",".join(row.document for row in rows[:limit])
    return answer(f'{{"items":[{items}],"next_cursor":null}}')


async def tell(connection, surface_id, payload):
    event_row = {"tenant_id": TENANT, "id": new_id(), "type": "load", "subject": "load", "version": 1, "payload": payload, "created_at": moment()}
    await connection.execute(insert(OUTBOX), event_row)
    happened = {name: event_row[name] for name in ["tenant_id", "id", "subject", "version", "created_at"]}
    happened |= {"surface_id": surface_id, "kind": "load", "at": event_row["created_at"], "statement": "Strip by machine and refinish on 240 m2."}
    await connection.execute(insert(HISTORY), happened)


@app.post("/v1/plans")
async def plan(request: Request):
    plan_id = new_id()
    row = {
        "tenant_id": TENANT, "id": plan_id, "site_id": SITE, "surface_id": key(request.surface_id), "rate_card_id": RATE_CARD,
        "surface_version": 1, "version": 1, "area_mm2": 1_000_000, "net_amount": 1, "status": "proposed", "goal": "restore",
        "verdict": "allowed", "process": "machine_strip_and_refinish", "knowledge_version": "1", "currency": "GBP",
        "request_document": SAMPLE["request"], "document": SAMPLE["plan"], "planned_on": "2026-05-12",
    }  # fmt: skip
    row["created_at"] = row["changed_at"] = moment()
    lines = [
        {"tenant_id": TENANT, "plan_id": plan_id, "line_no": number, "seconds": 1, "ml": 1, "amount": 1, **line}
        for number, line in enumerate(SAMPLE["plan_lines"], 1)
    ]
    async with WRITER.begin() as connection:
        await connection.execute(insert(PLANS), row)
        await connection.execute(insert(PLAN_LINES).values(lines))
        await tell(connection, row["surface_id"], SAMPLE["plan_event"])
    return answer(SAMPLE["plan"], 201)


@app.post("/v1/completions")
async def completion(request: Request):
    completion_id, surface_id, now = new_id(), key(request.surface_id), moment()
    about = {"tenant_id": TENANT, "site_id": SITE, "surface_id": surface_id, "rate_card_number": 1, "month": "2026-05", "currency": "GBP"}
    row = about | {
        "id": completion_id, "rate_card_id": RATE_CARD, "area_mm2": 1_000_000, "planned_share_ppm": 0, "status": "recorded",
        "process": "machine_strip_and_refinish", "document": SAMPLE["completion"],
        "started_at": now, "finished_at": now, "created_at": now, "changed_at": now, "deviation_state": "none", "deviations": "",
    }  # fmt: skip
    figures = "planned_seconds actual_seconds planned_ml actual_ml planned_amount computed_amount actual_amount".split()
    words = {"storey": "2", "material": "vinyl_composition_tile", "process": "machine_strip_and_refinish"}
    lines = [
        about | words | dict.fromkeys(figures, 1) | line | {"completion_id": completion_id, "line_no": number}
        for number, line in enumerate(SAMPLE["completion_lines"], 1)
    ]
    idempotency = {"tenant_id": TENANT, "client_id": "load", "key": str(uuid.uuid4())}
    async with WRITER.begin() as connection:
        await connection.execute(insert(KEYS), idempotency | {"fingerprint": "load", "created_at": now})
        await connection.execute(insert(COMPLETIONS), row)
        await connection.execute(insert(COMPLETION_LINES).values(lines))
        await tell(connection, surface_id, SAMPLE["completion_event"])
        mine = [KEYS.c[name] == value for name, value in idempotency.items()]
        kept = {"status": 201, "headers": "{}", "body": SAMPLE["completion"].encode()}
        await connection.execute(update(KEYS).where(*mine).values(kept))
    return answer(SAMPLE["completion"], 201)
