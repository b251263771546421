"""A ledger of many completions, made by the database itself out of records that the service made: sites, floors, completions
with three lines each over 24 months. Foreign keys are not checked while it is filled; every other rule is."""

import json
from pathlib import Path

import fill

N_SITES, N_MONTHS, N_TABLE = 100, 24, 100_000
PER_SURFACE = 1_000
MATERIALS = ["linoleum", "vinyl_sheet", "vinyl_composition_tile", "rubber", "terrazzo_cement"]
KINDS = [("labour", "'prepare'", "NULL"), ("product", "'protect'", "'emulsion_polish'"), ("tax", "NULL", "NULL")]


def uuid(kind, number):
    """SQL for the id of a record of a kind, a hexadecimal digit, by its number."""
    return f"('0190000{kind}-0000-7000-8000-' || lpad(to_hex({number}), 12, '0'))::uuid"


class Ledger:
    """A filled database: its tenants, and what requests need of it."""

    def __init__(self, load, label, n_completions, n_tenants):
        self.load, self.n_completions, self.n_tenants = load, n_completions, n_tenants
        self.n_surfaces = max(n_completions // PER_SURFACE // N_SITES, 1) * N_SITES
        self.database = fill.Postgres(load.directory, label, load.server_url)
        self.command = load.command(self.database)
        self.tenants = [f"load-{number}" for number in range(n_tenants)]
        self.command("migrate")
        for tenant in self.tenants:
            self.command("tenant", "add", tenant)
        self.token = self.command("token", "--tenant", self.tenants[0], "--bundle", "admin", "--hours", "12").splitlines()[-1]
        keys = self.database.rows("SELECT id, key FROM tenants")
        self.ids = {row["key"]: row["id"] for row in keys}

    def make(self, post):
        """One record of each kind through the service, to be copied; `post` sends a body to a server's address."""
        examples = json.loads((Path(__file__).parents[2] / "openapi" / "examples.json").read_text())
        server = self.load.service(self.database)
        try:
            ask = lambda path, body: post(server.address, path, body, self.token)  # noqa: E731
            site = ask("/v1/sites", examples["registerSite"]["request"])
            floor = examples["registerSurface"]["request"] | {"site_id": site["id"]}
            # Seen today, so that it is today's film that is planned for.
            floor["film"] = {name: value for name, value in floor["film"].items() if name != "seen_at"}
            surface = ask("/v1/surfaces", floor)
            ask("/v1/plans", examples["proposePlan"]["request"] | {"surface_id": surface["id"]})
            self.report = examples["recordCompletion"]["request"]
            ask("/v1/completions", self.report | {"surface_id": surface["id"]})
        finally:
            server.stop()
        self.sample = fill.read_sample(self.database)
        self.sample_file = self.load.directory / f"sample-{self.database.url.rsplit('/', 1)[-1]}.json"
        self.sample_file.write_text(json.dumps(self.sample))

    def fill(self):
        """Copies; no rollup is made."""
        tenant = "(ARRAY[" + ", ".join(f"'{self.ids[key]}'::uuid" for key in self.tenants) + f"])[n % {self.n_tenants} + 1]"
        site, surface = uuid("a", f"n % {N_SITES}"), uuid("b", f"n % {self.n_surfaces}")
        place = f"(n % {self.n_surfaces})"
        material = "(ARRAY[" + ", ".join(f"'{one}'" for one in MATERIALS) + f"])[({place} / {N_SITES}) % {len(MATERIALS)} + 1]"
        month = f"to_char(make_date(2025, 1, 1) + make_interval(months => (n / {self.n_surfaces}) % {N_MONTHS}), 'YYYY-MM')"
        process = f"(ARRAY['scrub_and_recoat', 'spray_buff'])[(n / {self.n_surfaces} / {N_MONTHS}) % 2 + 1]"
        document = self.document(surface, site)
        whole = {"tenant_id": tenant, "site_id": site}
        work = whole | {"surface_id": surface, "month": month, "process": process, "contractor_id": "NULL", "currency": "'EUR'"}
        last = self.n_completions - 1
        self.copy("sites", N_SITES - 1, {"tenant_id": tenant, "id": uuid("a", "n")})
        # A site without rates takes no completion.
        self.copy("rate_cards", N_SITES - 1, {"tenant_id": tenant, "id": uuid("e", "n"), "site_id": uuid("a", "n")})
        self.copy("surfaces", self.n_surfaces - 1, whole | {"id": uuid("b", "n"), "material": material, "document": document})
        done = {"id": uuid("d", "n"), "plan_id": "NULL", "area_mm2": "20000000 + n % 1000 * 10000", "document": self.nothing("completions")}
        self.copy("completions", last, work | done)
        self.copy_lines(last, work | {"completion_id": uuid("d", "n"), "storey": "'1'", "material": material})
        self.database.settle()

    def document(self, surface, site):
        """SQL for what is kept of a floor: the first one's, under other ids."""
        if not hasattr(self, "first"):
            [self.first] = self.database.rows("SELECT id, site_id FROM surfaces")
        named = [(self.first["id"], surface), (self.first["site_id"], site)]
        sql = "s.document"
        for old, new in named:
            sql = f"replace({sql}, '{old}', ({new})::text)"
        return sql

    def fill_table(self):
        """Many more floors, all at one site, of which reports know nothing."""
        surface, site = uuid("c", "n"), uuid("a", "0")
        tenant = f"'{self.ids[self.tenants[0]]}'::uuid"
        self.copy("surfaces", N_TABLE - 1, {"tenant_id": tenant, "site_id": site, "id": surface, "document": self.document(surface, site)})
        self.database.settle()

    def nothing(self, table):
        """SQL for an empty document: reports read none, and gigabytes of copies would only measure the disk."""
        sql = f"SELECT data_type FROM information_schema.columns WHERE table_name = '{table}' AND column_name = 'document'"
        return "'\\x'::bytea" if self.database.rows(sql)[0]["data_type"] == "bytea" else "''"

    def copy_lines(self, last, work):
        """Three lines of each completion, written one completion after the other, as the service does."""
        numbers = {name: f"CASE k {' '.join(f'WHEN {n} THEN {value}' for n, value in values)} ELSE 0 END" for name, values in {
            "actual_seconds": [(1, "3600 + n % 600")],
            "actual_ml": [(2, "2000 + n % 500")],
            "water_ml": [(2, "n % 9000")],
            "voc_mg": [(2, "n % 700")],
        }.items()}
        amount = "(CASE k WHEN 1 THEN 300000 + n % 997 * 100 WHEN 2 THEN 150000 + n % 499 * 100 ELSE 90000 + n % 99 * 100 END)"
        named = {
            "line_no": "k",
            "kind": "(ARRAY[" + ", ".join(f"'{kind}'" for kind, _, _ in KINDS) + "])[k]",
            "stage": "(ARRAY[" + ", ".join(stage for _, stage, _ in KINDS) + "]::text[])[k]",
            "product_class": "(ARRAY[" + ", ".join(product for _, _, product in KINDS) + "]::text[])[k]",
            "planned_seconds": "0", "planned_ml": "0", "planned_amount": "0", "computed_amount": amount, "actual_amount": amount,
            "quantity_amount": "0", "productivity_amount": "0", "voc_unknown_ml": "0",
        }
        self.copy("completion_lines", last, work | numbers | named, "CROSS JOIN generate_series(1, 3) AS k")

    def copy(self, table, last, named, more=""):
        """Inserts rows 0 to `last`, each the first of the table with other values in the columns that are named."""
        columns = [row["column_name"] for row in self.database.rows(
            f"SELECT column_name FROM information_schema.columns WHERE table_name = '{table}' AND table_schema = 'public' "
            "AND is_generated = 'NEVER' ORDER BY ordinal_position")]
        chosen = [named.get(name, f's."{name}"') for name in columns]
        quoted = ", ".join(f'"{name}"' for name in columns)
        order = "tenant_id, id" if table != "completion_lines" else "tenant_id, completion_id, line_no"
        self.run([
            "SET session_replication_role = replica",
            f"CREATE TEMP TABLE s AS SELECT * FROM {table} ORDER BY {order} LIMIT 1",
            f"INSERT INTO {table} ({quoted}) SELECT {', '.join(chosen)} FROM s CROSS JOIN generate_series(0, {last}) AS n {more}",
        ])

    def run(self, statements):
        """Statements on one connection, however long they take."""

        async def go():
            connection = await fill.asyncpg.connect(self.database.url, timeout=60, command_timeout=3600)
            try:
                for statement in statements:
                    await connection.execute(statement)
            finally:
                await connection.close()

        self.database.loop.run_until_complete(go())

    def surfaces(self, n):
        """The ids of floors of the first tenant, spread over its sites."""
        step = self.n_tenants
        return [f"srf_0190000b-0000-7000-8000-{number * step % self.n_surfaces:012x}" for number in range(n)]
