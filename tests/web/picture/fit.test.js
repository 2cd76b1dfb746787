// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { LINE, fitted, inOneLine } from "../../../web/js/picture/fit.js";
import { housesBriefly, placeAndWhat } from "../../../web/js/words/names.js";

/** Every letter is half an em wide. @param {string} text */
const half = (text) => text.length / 2;
const NAME = "The Old Assembly Room beside the North Stairs and the Gate, 12";

test("a short name stands at full size, and a longer one wraps and is smaller", () => {
  assert.deepEqual(fitted("12", { width: 100, height: 50 }, 40, 10, half), { text: "12", size: 40, lines: 1 });
  const { text, size, lines } = fitted("Winter Garden", { width: 100, height: 50 }, 40, 10, half);
  assert.equal(text, "Winter Garden");
  assert.ok(size < 40 && size > 10, String(size));
  assert.ok(lines * LINE * size <= 50);
});

test("whatever room a name has, it stands in it, whole or with a sign that it does not", () => {
  for (const width of [20, 60, 150, 400]) {
    for (const height of [12, 30, 70]) {
      const { text, size, lines } = fitted(NAME, { width, height }, 40, 10, half);
      assert.ok(lines * LINE * size <= Math.max(height, LINE * 10) + 1e-9, `${width} ${height}`);
      assert.ok(text === NAME || text.includes("…"), text);
    }
  }
});

test("what is cut keeps both its ends, by which names that begin alike are told apart", () => {
  const cut = inOneLine(NAME, 10, half);
  assert.ok(half(cut) <= 10);
  assert.match(cut, /^The Old.*….*12$/);
  assert.equal(inOneLine("12 B", 10, half), "12 B");
});

test("houses are told one by one as far as there is room, and how many more there are", () => {
  assert.equal(housesBriefly(["3", "4"], 2), "Houses 3 and 4");
  const many = Array.from({ length: 30 }, (_, place) => `${NAME} ${place}`);
  assert.equal(housesBriefly(many, 30), "every house");
  assert.equal(housesBriefly(many, 31), `Houses ${many[0]} and 29 more`);
});

test("a thing to do is cut between its place and what is to be done there", () => {
  assert.deepEqual(placeAndWhat("House 3: strike the lamp"), ["House 3:", "strike the lamp"]);
  assert.deepEqual(placeAndWhat("Start nine motors"), ["Start nine motors", ""]);
});

test("a number of two digits is never cut, however little room it has", () => {
  assert.equal(fitted("10", { width: 1, height: 1 }, 36, 12, ({ length }) => length).text, "10");
  assert.equal(
    inOneLine("7", 0.1, ({ length }) => length),
    "7",
  );
});
