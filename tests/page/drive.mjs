// Drives the page in Debian's Chromium, as a phone and as the screen at the pass, against the program
// itself. Usage: node drive.mjs PROGRAM NODE_MODULES [DIRECTORY FOR PICTURES]

import assert from "node:assert/strict";
import { createRequire } from "node:module";
import { readFileSync, writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";

import { Board, HOSTILE } from "./board.mjs";

const [program, modules, pictures] = process.argv.slice(2);
const here = createRequire(pathToFileURL(join(resolve(modules), "x.js")));
const { chromium } = here("playwright-core");
const AXE = readFileSync(here.resolve("axe-core/axe.min.js"), "utf8");

const PHONE = { width: 390, height: 760 };
const WALL = { width: 1920, height: 1080 };
const PATIENT = { timeout: 180_000 };

/** No test takes longer, on whatever machine, ms. */
const LONGEST = 400_000;

const board = new Board(resolve(program));
let browser;
let phone; // Cookies of the paired phone.

async function open(options = {}) {
  const { path = "/", paired = true, base = board.base, ...rest } = options;
  const context = await browser.newContext({ viewport: PHONE, storageState: paired ? phone : undefined, ...rest });
  const page = await context.newPage();
  page.errors = [];
  page.on("pageerror", (error) => page.errors.push(String(error)));
  page.on("console", (message) => {
    // That the board is away is told so too, and is tested on purpose.
    if (message.type() === "error" && !/Failed to load resource|ERR_/.test(message.text())) page.errors.push(message.text());
  });
  page.on("dialog", (dialog) => page.errors.push(`dialog: ${dialog.message()}`));
  await page.goto(base + path);
  return page;
}

async function close(page) {
  assert.deepEqual(page.errors, [], "the page complains of nothing, its policy among it");
  await page.context().close();
}

/** Where a part stands, in one look: parts are replaced while one looks. */
function boxOf(page, part) {
  return page.evaluate((what) => document.querySelector(what)?.getBoundingClientRect().toJSON(), part);
}

/** Presses one of the cook's words. */
async function say(page, words) {
  await page.locator(".words").getByRole("button", { name: words, exact: true }).click();
}

async function picture(page, name) {
  if (pictures) await page.screenshot({ path: join(pictures, `${name}.png`) });
}

/** No violation of WCAG 2.2 A and AA or of good practice. */
async function audit(page, what) {
  // The policy lets no foreign script in; the audit comes by the browser's own door.
  const found = await page.evaluate(`${AXE}; axe.run(document, { resultTypes: ["violations"], runOnly: {
    type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] } })`);
  const told = found.violations.map((v) => `${v.id}: ${v.help}\n  ${v.nodes.map((n) => n.html).join("\n  ")}`);
  assert.deepEqual(told, [], `axe-core has nothing to say of ${what}`);
  assert.ok(found.passes.length > 10, "axe-core looked");
}

/** Everything that is touched is large enough for a wet hand. */
async function large(page, what) {
  const small = await page.evaluate(() =>
    [...document.querySelectorAll("button, summary, select, input:not([type=hidden]):not([type=checkbox]), .pair, .back, nav a, .go a, header a, .kept a")]
      .filter((e) => e.checkVisibility())
      .map((e) => [e.outerHTML.slice(0, 80), e.getBoundingClientRect()])
      .filter(([, r]) => r.height < 47.5 || r.width < 44)
      .map(([html, r]) => `${html} ${r.width}×${r.height}`));
  assert.deepEqual(small, [], `targets of ${what}`);
}

/** Nothing is wider than the screen. */
async function fits(page, what) {
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  assert.ok(wide <= 0, `${what} is ${wide} px too wide`);
}

function within(ms, test) {
  let timer;
  const late = new Promise((_, fail) => (timer = setTimeout(() => fail(new Error(`not done after ${ms} ms`)), ms)));
  return Promise.race([test, late]).finally(() => clearTimeout(timer));
}

const tests = {
  async "who is not paired reads and has nothing to press"() {
    const page = await open({ path: "/pot/big", paired: false });
    assert.equal(await page.locator(".words button").count(), 0);
    assert.ok(await page.getByText("Pair this phone to say something").isVisible());
    const status = await page.evaluate(async () => {
      const body = new URLSearchParams({ says: "stirred" });
      return (await fetch("/pot/big/say", { method: "POST", body })).status;
    });
    assert.equal(status, 403);
    await large(page, "a page that is only read");
    await audit(page, "a page that is only read");
    await close(page);
  },

  async "a phone is paired by the picture's address and the code is good once"() {
    const { url } = board.code();
    const page = await open({ path: new URL(url).pathname + new URL(url).search, paired: false });
    await audit(page, "the door");
    await large(page, "the door");
    await picture(page, "door");
    await page.fill("#name", "Anna's phone");
    await page.click("form.door button");
    await page.waitForURL(`${board.base}/`);
    assert.ok(await page.getByText("This phone is paired as Anna's phone").count());
    phone = await page.context().storageState();
    assert.ok(phone.cookies.every((cookie) => cookie.httpOnly && cookie.sameSite === "Lax"));
    await page.goto(url);
    await page.fill("#name", "Another");
    await page.click("form.door button");
    assert.ok(await page.getByText("that code is not the one").isVisible());
    await close(page);
  },

  async "the first glance answers its four questions without scrolling"() {
    const page = await open({ path: "/pot/big" });
    const bar = await page.locator(".bar").boundingBox();
    for (const part of [".glance h1", ".calm, .hand", ".last"]) {
      const box = await boxOf(page, part);
      assert.ok(box && box.y >= 0 && box.y + box.height <= bar.y, `${part} is in sight: ${JSON.stringify(box)}`);
    }
    const curve = await page.locator(".curve img").boundingBox();
    assert.ok(curve.y + 150 < bar.y, "the pot and its curve begin in sight");
    assert.ok(await page.locator(".curve img").evaluate((img) => img.complete && img.naturalWidth > 0));
    assert.ok(bar.y + bar.height <= PHONE.height + 0.5, "the words are at the bottom edge");
    await fits(page, "a pot on the phone");
    await picture(page, "phone");
    await close(page);
  },

  async "the page is alive without being read again"() {
    const page = await open({ path: "/pot/big" });
    await page.evaluate(() => (window.same = true));
    const before = await page.locator("#time").textContent();
    const drawn = await page.locator(".curve img").getAttribute("src");
    await page.waitForFunction((t) => document.querySelector("#time").textContent !== t, before, PATIENT);
    await page.waitForFunction((s) => document.querySelector(".curve img").getAttribute("src") !== s, drawn, PATIENT);
    assert.ok(await page.evaluate(() => window.same), "it was not loaded anew");
    await close(page);
  },

  async "what the cook says arrives in the events, the store and every other page"() {
    const page = await open({ path: "/pot/big" });
    const other = await open({ path: "/pot/big", paired: false });
    await say(page, "Bottom clean");
    await page.getByText("The pot was told: the bottom is clean").waitFor(PATIENT);
    for (const each of [page, other]) {
      await each.locator(".events").getByText("Said: the bottom is clean (Anna's phone)").first().waitFor(PATIENT);
    }
    assert.match(board.kept(1), /said by Anna's phone: .*bottom( is |-)clean/);
    await page.click(".more summary");
    await large(page, "everything that can be said");
    await audit(page, "everything that can be said");
    await picture(page, "say");
    await page.fill(".added [name=amount]", "1,2");
    await page.fill(".added [name=what]", "cream");
    await say(page, "Tell the pot");
    await page.locator(".events").getByText(/Said: (added|that was) 1.20 kg (of )?cream/).first().waitFor(PATIENT);
    assert.equal(await page.locator(".more[open]").count(), 0, "the sheet is put away");
    await close(other);
    await close(page);
  },

  async "what is not understood is said so"() {
    const page = await open({ path: "/pot/big" });
    await page.click(".more summary");
    await page.fill(".added [name=amount]", "2");
    await page.selectOption(".added [name=unit]", "cups");
    await page.fill(".added [name=what]", "crram");
    await say(page, "Tell the pot");
    await page.locator("#told.refused").getByText("did you mean").waitFor(PATIENT);
    // As a browser without a script sends it.
    await page.evaluate(() => document.querySelector(".added").submit());
    await page.getByText("The pot was not told").waitFor(PATIENT);
    await audit(page, "a refusal");
    await close(page);
  },

  async "an alert comes by itself and is answered"() {
    const page = await open({ path: "/pot/big" });
    await page.locator(".hand").waitFor(PATIENT);
    await picture(page, "alert");
    await audit(page, "an alert");
    const seen = page.locator(".hand, .alert").getByRole("button", { name: "Seen" }).first();
    await seen.click();
    await page.locator(".events").getByText(/^Seen: /).first().waitFor(PATIENT);
    assert.match(board.kept(1), /said by Anna's phone: (Seen|acknowledge)/);
    await close(page);
  },

  async "the page comes back by itself when the board was started anew"() {
    const page = await open({ path: "/pot/big" });
    await page.evaluate(() => (window.same = true));
    const streams = [];
    page.on("request", (request) => request.url().includes("/stream") && streams.push(request));
    assert.equal(await board.stop(), 0, "the board ends with a page open");
    await page.getByText("No word from the board since").waitFor(PATIENT);
    await picture(page, "away");
    await audit(page, "a page without its board");
    await say(page, "Stirred");
    await page.getByText("The pot was not told").waitFor(PATIENT);
    await board.start();
    await page.locator("#link:empty").waitFor({ state: "attached", ...PATIENT });
    const time = await page.locator("#time").textContent();
    await page.waitForFunction((t) => document.querySelector("#time").textContent !== t, time, PATIENT);
    assert.ok(await page.evaluate(() => window.same), "it was not loaded anew");
    const resumed = await Promise.all(streams.map(async (request) =>
      (await request.allHeaders())["last-event-id"] ?? new URL(request.url()).searchParams.get("after")));
    assert.ok(resumed.some((id) => /^[0-9a-f]{8}-\d+$/.test(id)), `it said what it had: ${resumed}`);
    await page.locator(".events").getByText("Said: the bottom is clean").first().waitFor({ state: "attached", ...PATIENT });
    await close(page);
  },

  async "a phone that was out of reach hears what it missed"() {
    const page = await open({ path: "/pot/big" });
    const other = await open({ path: "/pot/big" });
    await page.context().setOffline(true);
    await say(other, "It caught");
    await other.locator(".events").getByText("Said: it caught").first().waitFor(PATIENT);
    await page.context().setOffline(false);
    await page.locator(".events").getByText("Said: it caught").first().waitFor(PATIENT);
    await close(other);
    await close(page);
  },

  async "without a script the page is read and spoken to all the same"() {
    const page = await open({ path: "/pot/big", javaScriptEnabled: false });
    assert.ok(await page.locator(".glance h1").isVisible());
    // Scripts are off by the browser's debugging door, where it shows no noscript; it is read all the same.
    assert.match(await page.locator("footer noscript").textContent(), /reads itself again/);
    assert.equal(await page.locator("head noscript meta[http-equiv=refresh]").count(), 1);
    assert.equal(await page.locator("#sound").isVisible(), false);
    await page.click(".more summary");
    await picture(page, "no-script");
    await say(page, "Flame off");
    await page.waitForURL(`${board.base}/pot/big`);
    assert.ok(await page.locator(".events").getByText("Said: flame off (Anna's phone)").first().isVisible());
    await page.click(".more summary");
    await page.fill(".added [name=amount]", "2");
    await page.selectOption(".added [name=unit]", "cups");
    await page.fill(".added [name=what]", "crram");
    await say(page, "Tell the pot");
    assert.ok(await page.getByText("The pot was not told").isVisible());
    await page.click("text=Back to the pot");
    await page.click("text=Dark");
    assert.equal(await page.locator("html").getAttribute("data-look"), "dark");
    assert.equal(await page.locator("body").evaluate((b) => getComputedStyle(b.parentElement).backgroundColor), "rgb(23, 22, 20)");
    await page.click("text=As the phone");
    await close(page);
  },

  async "the pass shows every pot across the kitchen, by day and by night"() {
    for (const colorScheme of ["light", "dark"]) {
      const page = await open({ viewport: WALL, colorScheme, paired: false });
      assert.equal(await page.locator("article.pot").count(), 2);
      for (const part of ["article.pot h2", "article.pot .curve img"]) {
        // All at once: the page is alive, and a part that is put in anew has no place for a moment.
        const ends = await page.locator(part).evaluateAll((all) => all.map((each) => each.getBoundingClientRect().bottom));
        assert.equal(ends.length, 2, part);
        assert.ok(ends.every((end) => end > 0 && end <= WALL.height), `${part} is in sight: ${ends}`);
      }
      const size = await page.evaluate(() => parseFloat(getComputedStyle(document.querySelector("article.pot h2")).fontSize));
      assert.ok(size >= 60, `the sentence is ${size} px high`);
      assert.equal(await page.locator(".answers button:visible").count(), 0);
      await fits(page, "the pass");
      await audit(page, `the pass, ${colorScheme}`);
      await picture(page, `pass-${colorScheme}`);
      await close(page);
    }
  },

  async "the night look is audited too, and a pot on the wall"() {
    for (const [name, viewport] of [["phone", PHONE], ["wall", WALL]]) {
      const page = await open({ path: "/pot/big", viewport, colorScheme: "dark" });
      await audit(page, `a pot by night, ${name}`);
      await large(page, `a pot by night, ${name}`);
      await picture(page, `night-${name}`);
      await close(page);
    }
  },

  async "a hostile name stays a name on every page"() {
    for (const path of ["/", "/pot/small", "/batches", "/batches/2", "/compare?with=1&with=2"]) {
      const page = await open({ path });
      await page.waitForTimeout(300);
      assert.equal(await page.evaluate(() => window.hurt), undefined, path);
      assert.equal(await page.locator("img[src=x]").count(), 0, path);
      assert.ok((await page.content()).includes("&lt;img src=x"), path);
      assert.ok((await page.locator("body").innerText()).includes(HOSTILE), `${path} shows it as it is`);
      await close(page);
    }
    const page = await open({ path: "/pot/small/curve.svg" });
    assert.equal(await page.evaluate(() => window.hurt), undefined);
    await close(page);
  },

  async "earlier batches are listed, shown and laid over each other"() {
    const page = await open({ path: "/batches" });
    await audit(page, "the list of batches");
    await large(page, "the list of batches");
    for (const box of await page.locator("input[type=checkbox]").all()) await box.check();
    await picture(page, "batches");
    await page.click("text=Lay the chosen ones over each other");
    await page.waitForURL(/\/compare\?/);
    await fits(page, "a comparison");
    await audit(page, "a comparison");
    await picture(page, "compared");
    assert.ok(await page.locator(".curve img").evaluate((img) => img.decode().then(() => img.naturalWidth > 0)));
    await page.click("text=All batches");
    await page.click("text=Tuesday base");
    await audit(page, "a batch");
    await picture(page, "batch");
    await close(page);
  },

  async "a kitchen in which no batch has begun shows its pots, and what to do"() {
    const waiting = new Board(resolve(program));
    try {
      await waiting.set();
      await waiting.start([]);
      for (const [name, viewport] of [["phone", PHONE], ["wall", WALL]]) {
        const page = await open({ viewport, paired: false, base: waiting.base });
        await page.locator("article.waits").nth(1).waitFor(PATIENT);
        await page.waitForLoadState();
        await page.evaluate(() => (window.same = true));
        assert.equal(await page.locator("article.pot").count(), 2);
        for (const said of ["No batch", /probe is at \d+ °C/, /It holds \d+/, "start dekchi again with a batch file"]) {
          await page.getByText(said).first().waitFor(PATIENT);
        }
        // Longer than a curve takes to be drawn anew: there is none to be told of.
        await page.waitForTimeout(12_000);
        assert.ok(await page.evaluate(() => window.same), "it was not loaded anew");
        await large(page, `no batch, ${name}`);
        await fits(page, `no batch, ${name}`);
        await audit(page, `no batch, ${name}`);
        await picture(page, `no-batch-${name}`);
        await close(page);
      }
    } finally {
      waiting.clear();
    }
  },

  async "metrics and health are there for machines"() {
    const metrics = await fetch(`${board.base}/metrics`);
    assert.match(metrics.headers.get("content-type"), /^application\/openmetrics-text/);
    const text = await metrics.text();
    if (pictures) writeFileSync(join(pictures, "metrics.txt"), text);
    assert.equal((await (await fetch(`${board.base}/health`)).json()).status, "pass");
  },

  async "a phone that was forgotten says nothing more"() {
    const page = await open({ path: "/pot/big" });
    const list = board.dekchi("pair", "list", "--store", board.path("dekchi.sqlite"));
    assert.match(list, /1 {2}.*Anna's phone/);
    board.dekchi("pair", "forget", "1", "--store", board.path("dekchi.sqlite"));
    await say(page, "Stirred");
    await page.locator("#told.refused").getByText("Pair this phone first").waitFor(PATIENT);
    await close(page);
  },
};

try {
  await board.set();
  await board.start();
  browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
      "--disable-component-update", "--disable-sync"],
  });
  let failed = 0;
  for (const [name, test] of Object.entries(tests)) {
    try {
      await within(LONGEST, test());
      console.log(`ok      ${name}`);
    } catch (error) {
      failed += 1;
      console.log(`FAILED  ${name}\n${error.stack}`);
      for (const context of browser.contexts()) await context.close();
      if (board.process.exitCode !== null) await board.start();
    }
  }
  console.log(`${Object.keys(tests).length - failed} of ${Object.keys(tests).length} in a browser`);
  process.exitCode = failed ? 1 : 0;
} finally {
  await browser?.close();
  board.clear();
}
