"""The main job with the client that openapi-python-client generates: site, surface, plan, estimate, completion, report."""

import json
import sys

from generated.api.completions import get_completion, record_completion
from generated.api.estimates import make_estimate
from generated.api.plans import propose_plan
from generated.api.reports import report_costs
from generated.api.sites import register_site
from generated.api.surfaces import register_surface
from generated.client import AuthenticatedClient
from generated.models import (
    CompletionRequest, CompletionView, CostReportView, EstimateRequest, EstimateView, PlanRequest, PlanView,
    SiteRequest, SiteView, SurfaceRequest, SurfaceView,
)


def must(kind, answer):
    if not isinstance(answer, kind):
        raise SystemExit(f"expected {kind.__name__}, got {answer}")
    return answer


def main(url, token, data):
    with open(data) as file:
        data = json.load(file)
    client = AuthenticatedClient(base_url=url, token=token, raise_on_unexpected_status=True)
    site = must(SiteView, register_site.sync(client=client, body=SiteRequest.from_dict(data["site"])))
    request = SurfaceRequest.from_dict(data["surface"] | {"site_id": site.id})
    surface = must(SurfaceView, register_surface.sync(client=client, body=request))
    request = PlanRequest.from_dict({"surface_id": surface.id, "wish": data["wish"]})
    plan = must(PlanView, propose_plan.sync(client=client, body=request))
    assert plan.work and plan.verdict, plan
    request = EstimateRequest.from_dict({"site_id": site.id, "wish": data["wish"]})
    estimate = must(EstimateView, make_estimate.sync(client=client, body=request))
    assert estimate.n_surfaces == 1, estimate
    request = CompletionRequest.from_dict(data["completion"] | {"surface_id": surface.id, "plan_id": plan.id})
    done = must(CompletionView, record_completion.sync(client=client, body=request, idempotency_key="journey-python"))
    again = must(CompletionView, record_completion.sync(client=client, body=request, idempotency_key="journey-python"))
    read = must(CompletionView, get_completion.sync(done.id, client=client))
    assert done.id == again.id == read.id and read.plan_id == plan.id
    report = must(CostReportView, report_costs.sync(client=client, from_=data["from"], to=data["to"], site_id=site.id))
    assert report.rows[0].actual.net.amount == done.money.actual_net.amount, report
    print("test result: ok. 1 passed; 0 failed; the journey with a generated Python client")


if __name__ == "__main__":
    main(*sys.argv[1:])
