import com.fasterxml.jackson.databind.JsonNode;
import com.fasterxml.jackson.databind.ObjectMapper;
import com.fasterxml.jackson.databind.node.ObjectNode;
import java.nio.file.Path;
import org.openapitools.client.ApiClient;
import org.openapitools.client.api.*;
import org.openapitools.client.model.*;

/** The main job with the client that openapi-generator makes: site, surface, plan, estimate, completion, report. */
public final class Journey {
    public static void main(String[] arguments) throws Exception {
        ApiClient client = new ApiClient();
        client.updateBaseUri(arguments[0]);
        client.setRequestInterceptor(request -> request.header("Authorization", "Bearer " + arguments[1]));
        ObjectMapper json = client.getObjectMapper();
        JsonNode data = json.readTree(Path.of(arguments[2]).toFile());

        SiteView site = new SitesApi(client).registerSite(json.treeToValue(data.get("site"), SiteRequest.class), null);
        ObjectNode floor = ((ObjectNode) data.get("surface")).put("site_id", site.getId());
        SurfaceView surface = new SurfacesApi(client).registerSurface(json.treeToValue(floor, SurfaceRequest.class), null);
        WishRequest wish = json.treeToValue(data.get("wish"), WishRequest.class);
        PlanView plan = new PlansApi(client).proposePlan(new PlanRequest().surfaceId(surface.getId()).wish(wish), null);
        must(plan.getWork() != null, "the plan has no work");
        EstimateView estimate = new EstimatesApi(client).makeEstimate(new EstimateRequest().siteId(site.getId()).wish(wish), null);
        must(estimate.getnSurfaces() == 1, "the estimate is for one surface");
        ObjectNode work = ((ObjectNode) data.get("completion")).put("surface_id", surface.getId()).put("plan_id", plan.getId());
        CompletionView done = new CompletionsApi(client)
            .recordCompletion("journey-java", json.treeToValue(work, CompletionRequest.class));
        // In the order of the description: from, to, last_months, site_id, seven more filters and the currency, group_by, top, top_by,
        // skip_empty, rework_days, format, If-None-Match.
        CostReportView costs = new ReportsApi(client).reportCosts(
            data.get("from").asText(), data.get("to").asText(), null, site.getId(),
            null, null, null, null, null, null, null, null, null, null, null, null, null, null, null);
        String reported = costs.getRows().get(0).getActual().getNet().getAmount();
        must(reported.equals(done.getMoney().getActualNet().getAmount()), "the report is not what was recorded");
        System.out.println("test result: ok. 1 passed; 0 failed; the journey with a generated Java client");
    }

    private static void must(boolean holds, String what) {
        if (!holds) {
            throw new IllegalStateException(what);
        }
    }
}
