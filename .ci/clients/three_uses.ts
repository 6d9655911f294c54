// One real call of each of the three uses, with types made from the API description.
import assert from "node:assert/strict";
import createClient from "openapi-fetch";
import type { paths } from "./api.js";

const [address] = process.argv.slice(2);
const shop = createClient<paths>({ baseUrl: address });

const order = await shop.POST("/v1/order", {
  body: {
    final_metal: "gold-585-yellow",
    pieces: 2,
    trial: { metal: "sterling-silver", mass: "6.31 g" },
  },
});
assert.ok(order.data, JSON.stringify(order.error));
const { charge } = order.data.result;
assert.ok(charge.value > 2 * order.data.result.finished_mass.value);
assert.equal(order.data.result.balance.total.difference, 0);

const density = await shop.GET("/v1/alloys/{name}/density", { params: { path: { name: "sterling-silver" } } });
assert.ok(density.data && typeof density.data !== "string"); // as text it would be the bare number
assert.ok(density.data.value > 10 && density.data.value < 11);
assert.equal(density.data.unit, "g/cm3");

const transfer = await shop.GET("/v1/transfer", {
  params: { query: { mass: "4.82", unit: "dwt", from_metal: "sterling-silver", to_metal: "gold-750-yellow" } },
});
assert.ok(transfer.data && typeof transfer.data !== "string");
assert.ok(transfer.data.result.ratio.value > 1.4 && transfer.data.result.ratio.value < 1.6);

const refused = await shop.POST("/v1/order", {
  body: { final_metal: "gold-585-yellow", trial: { metal: "sterling-silver", mass: "6.31 oz" } },
});
assert.ok(refused.error);
assert.equal(refused.error.errors[0]?.pointer, "/trial/mass");
console.log(`TypeScript: charge ${charge.value} g, density ${density.data.value} g/cm3`);
