// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { KnownPaths, addHouse, housesLeft, moveHouse, renamedHouse, sitePaths, takeSitePaths, turnAbout } from "../../../web/js/plan/chain.js";
import { crewFrom, faultInWords, siteFrom, siteInWords } from "../../../web/js/plan/sites.js";
import { chainOf, planView } from "./plans.js";

/** @type {import("../../../web/js/wire.js").SiteInfo} */
const SITE = {
  name: "quarry",
  called: "Quarry Lane",
  houses: [
    { house: "1", values: { house: "1", booth: "North" } },
    { house: "2", values: { house: "2", booth: "North", reserve_s: 1.5, inputs: { motor: "contact" } } },
    { house: "3", values: { house: "3", booth: "South" } },
  ],
  paths: [
    { houses: ["2", "1"], key: "path_ft", length: 40, rollers: 4 },
    { houses: ["2", "3"], key: "path_m", length: 12.5, rollers: null },
    { houses: ["1", "3"], key: "path_ft", length: 90, rollers: 9 },
  ],
};

/** @param {import("../../../web/js/wire.js").SiteInfo} [site] */
function atSite(site = SITE) {
  const known = new KnownPaths();
  known.takeSite(site);
  return known;
}

test("a house of the site comes with its booth, its reserve, who tells of it, and the measured path", () => {
  const plan = planView({ ...chainOf([["1", null]]), "stations[0].booth": "North", "stations[0].inputs.motor": "tap" });
  assert.deepEqual(addHouse(plan, atSite(), "2"), [
    {
      do: "add",
      list: "stations",
      at: 1,
      values: { id: "h2", house: "2", path_ft: 40, rollers: 4, inputs: { motor: "contact" }, booth: "North", reserve_s: 1.5 },
    },
  ]);
  const [first] = addHouse(planView({}), atSite(), "3");
  assert.deepEqual(first?.do === "add" && [first.values["booth"], first.values["path_ft"]], ["South", undefined]);
});

test("a house that the site has no booth for gets none of another house", () => {
  const known = atSite({ ...SITE, houses: [{ house: "4", values: { house: "4" } }] });
  const [added] = addHouse(planView({ ...chainOf([["1", null]]), "stations[0].booth": "North" }), known, "4");
  assert.equal(added?.do === "add" && added.values["booth"], undefined);
});

test("the houses to choose from are those that the chain does not have", () => {
  assert.deepEqual(
    housesLeft(
      planView(
        chainOf([
          ["1", null],
          ["3", null],
        ]),
      ),
      atSite(),
    ).map(({ house }) => house),
    ["2"],
  );
});

test("new neighbours have the path that the site measured, whichever way, unless the plan had its own for them", () => {
  const plan = planView(
    chainOf([
      ["1", null],
      ["2", 40],
      ["3", 50],
    ]),
  );
  assert.deepEqual(moveHouse(plan, 2, 1, atSite()), [
    { do: "move", list: "stations", at: 2, to: 1 },
    { do: "set", path: "stations[1].path_ft", value: 90 },
    { do: "set", path: "stations[1].rollers", value: 9 },
    { do: "set", path: "stations[2].path_m", value: 12.5 },
    { do: "set", path: "stations[2].rollers", value: null },
  ]);
  const own = atSite();
  own.learn(plan);
  assert.deepEqual(moveHouse(plan, 2, 1, own).slice(-2), [
    { do: "set", path: "stations[2].path_ft", value: 50 },
    { do: "set", path: "stations[2].rollers", value: 5 },
  ]);
});

test("a chain that is turned about has every path the other way, and none before its first house", () => {
  const plan = planView(
    chainOf([
      ["1", null],
      ["2", 40],
      ["3", 50],
    ]),
  );
  const known = atSite();
  known.learn(plan);
  assert.deepEqual(turnAbout(plan, known), [
    { do: "move", list: "stations", at: 1, to: 0 },
    { do: "move", list: "stations", at: 2, to: 0 },
    { do: "set", path: "stations[0].path_ft", value: null },
    { do: "set", path: "stations[0].rollers", value: null },
    { do: "set", path: "stations[1].path_ft", value: 50 },
    { do: "set", path: "stations[1].rollers", value: 5 },
    { do: "set", path: "stations[2].path_ft", value: 40 },
    { do: "set", path: "stations[2].rollers", value: 4 },
  ]);
});

test("a house with another name gets the site's path and booth where it had the site's, or none; what a person wrote stays", () => {
  const renamed = {
    ...chainOf([
      ["1", null],
      ["3", 40],
    ]),
    "stations[1].id": "h3",
    "stations[1].booth": "North",
  };
  assert.deepEqual(renamedHouse(planView(renamed), 1, "2", atSite()), [
    { do: "set", path: "stations[1].booth", value: "South" },
    { do: "set", path: "stations[1].path_ft", value: 90 },
    { do: "set", path: "stations[1].rollers", value: 9 },
  ]);
  const own = { ...renamed, "stations[1].path_ft": 77, "stations[1].booth": "Gallery" };
  assert.deepEqual(renamedHouse(planView(own), 1, "2", atSite()), []);
  const unmeasured = {
    ...chainOf([
      ["1", null],
      ["9", 40],
    ]),
    "stations[1].id": "h9",
  };
  assert.deepEqual(renamedHouse(planView(unmeasured), 1, "2", atSite()), [
    { do: "set", path: "stations[1].path_ft", value: null },
    { do: "set", path: "stations[1].rollers", value: null },
  ]);
});

test("the paths that the site has otherwise are told, and taken together; the same length in another unit is the same", () => {
  const values = {
    ...chainOf([
      ["1", null],
      ["2", null],
      ["3", null],
    ]),
    "stations[1].path_m": 12.192,
    "stations[2].path_ft": 50,
  };
  const plan = planView(values);
  assert.deepEqual(
    sitePaths(plan, atSite()).map(({ place, here }) => [place, here?.length]),
    [[2, 50]],
  );
  assert.deepEqual(takeSitePaths(plan, atSite()), [
    { do: "set", path: "stations[2].path_m", value: 12.5 },
    { do: "set", path: "stations[2].rollers", value: null },
  ]);
  assert.deepEqual(sitePaths(planView({ ...values, "stations[2].path_ft": "far" }), atSite()).length, 1);
});

test("another site, or none, takes the place of the one before", () => {
  const known = atSite();
  known.takeSite(null);
  assert.deepEqual([known.between("1", "2"), known.house("1"), known.houses], [null, null, []]);
});

/** @param {string} name @param {string} text @param {number} [size] */
function file(name, text, size = text.length) {
  return { name, size, text: async () => text };
}

test("a site file is known by its name or by its first key; what is none is left to others", async () => {
  assert.deepEqual(await siteFrom([file("a.site.toml", "x")]), { name: "a.site.toml", text: "x" });
  assert.equal((await siteFrom([file("a.toml", 'format = "festoon-site/1"')]))?.name, "a.toml");
  for (const files of [
    [],
    [file("a.plan.toml", 'format = "festoon-plan/1"')],
    [file("a.events.jsonl", "{}")],
    [file("a.site.toml", "x"), file("b.site.toml", "x")],
    [file("a.toml", "x", 300_000)],
  ]) {
    assert.equal(await siteFrom(files), null);
  }
  await assert.rejects(siteFrom([file("a.site.toml", "x", 300_000)]), /^Error: a\.site\.toml has 300 kB; a site file has at most 200\.$/);
});

test("what is said of sites, their faults and the crew", () => {
  assert.equal(siteInWords({ houses: 1, paths: 2 }), "1 house, 2 measured paths");
  assert.deepEqual([faultInWords({ line: 4, text: "x" }), faultInWords({ line: 0, text: "x" })], ["Line 4: x", "x"]);
  assert.deepEqual(["", " 3 ", "200", "0", "201", "two", "1.5"].map(crewFrom), [null, 3, 200, undefined, undefined, undefined, undefined]);
});
