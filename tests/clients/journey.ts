// The main job with the types that openapi-typescript generates: site, surface, plan, estimate, completion, report.
import type { components, operations } from "./generated";

type Schemas = components["schemas"];
declare const process: { argv: string[] };
declare function require(name: string): { readFileSync(path: string, encoding: string): string };

const [url, token, file] = process.argv.slice(2);
const data = JSON.parse(require("fs").readFileSync(file!, "utf8")) as {
  site: Schemas["SiteRequest"];
  surface: Omit<Schemas["SurfaceRequest"], "site_id">;
  wish: Schemas["PlanRequest"]["wish"];
  completion: Omit<Schemas["CompletionRequest"], "surface_id">;
  from: string;
  to: string;
};

async function call<Answer>(method: string, path: string, body?: unknown): Promise<Answer> {
  const answer = await fetch(url + path, {
    method,
    headers: {
      Authorization: `Bearer ${token}`,
      "Content-Type": "application/json",
      "Idempotency-Key": `journey-typescript${path}`,
    },
    body: body === undefined ? undefined : JSON.stringify(body),
  });
  if (!answer.ok) throw new Error(`${method} ${path}: ${answer.status} ${await answer.text()}`);
  return (await answer.json()) as Answer;
}

function must(holds: boolean, what: string): void {
  if (!holds) throw new Error(what);
}

async function main(): Promise<void> {
  const site = await call<Schemas["SiteView"]>("POST", "/v1/sites", data.site);
  const floor: Schemas["SurfaceRequest"] = { ...data.surface, site_id: site.id };
  const surface = await call<Schemas["SurfaceView"]>("POST", "/v1/surfaces", floor);
  const asked: Schemas["PlanRequest"] = { surface_id: surface.id, wish: data.wish };
  const plan = await call<Schemas["PlanView"]>("POST", "/v1/plans", asked);
  must(plan.work != null, "the plan has no work");
  const all: Schemas["EstimateRequest"] = { site_id: site.id, wish: data.wish };
  const estimate = await call<Schemas["EstimateView"]>("POST", "/v1/estimates", all);
  must(estimate.n_surfaces === 1, "the estimate is for one surface");
  const report: Schemas["CompletionRequest"] = { ...data.completion, surface_id: surface.id, plan_id: plan.id };
  const done = await call<Schemas["CompletionView"]>("POST", "/v1/completions", report);
  const query = { from: data.from, to: data.to, site_id: site.id } satisfies operations["reportCosts"]["parameters"]["query"];
  const costs = await call<Schemas["CostReportView"]>("GET", `/v1/reports/costs?${new URLSearchParams(query)}`);
  must(costs.rows[0]?.actual.net.amount === done.money.actual_net.amount, "the report is not what was recorded");
  console.log("test result: ok. 1 passed; 0 failed; the journey with generated TypeScript types");
}

main();
