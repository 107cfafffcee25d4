// Keeps the page alive: parts come as Server-Sent Events and take the old ones' places. Without this
// file the page works all the same.
"use strict";

(() => {
  const body = document.body;
  const stream = body.dataset.stream;
  if (!stream) return;

  const SILENT_MS = 30000; // The board says something every 10 s.
  const link = document.getElementById("link");
  let after = body.dataset.after;
  let source = null;
  let heard = Date.now();
  let tries = 0;
  let waiting = 0;

  // Parts.

  function place(part) {
    const element = document.getElementById(part.id);
    // A batch began or ended: the page has another shape now.
    if (!element) return location.reload();
    if (part.drawn !== undefined) return redraw(element, part);
    const open = [...element.querySelectorAll("details[data-keep][open]")].map((d) => d.dataset.keep);
    const focused = element.contains(document.activeElement) ? document.activeElement.value : null;
    element.innerHTML = part.html;
    for (const keep of open) {
      const details = element.querySelector(`details[data-keep="${keep}"]`);
      if (details) details.open = true;
    }
    if (focused !== null) {
      [...element.querySelectorAll("button")].find((b) => b.value === focused)?.focus();
    }
  }

  // The old picture stays until the new one is there.
  function redraw(figure, part) {
    const anew = (url) => url.replace(/drawn=\d+/, `drawn=${part.drawn}`);
    for (const source of figure.querySelectorAll("source")) {
      source.setAttribute("srcset", anew(source.getAttribute("srcset")));
    }
    const img = figure.querySelector("img");
    img.alt = part.told;
    img.setAttribute("src", anew(img.getAttribute("src")));
  }

  function take(news) {
    if (news.title) document.title = news.title;
    if (news.time) {
      const time = document.getElementById("time");
      if (time) time.textContent = news.time;
    }
    for (const part of news.parts || []) place(part);
    if (news.alert !== undefined) alerted(news.alert);
  }

  // The line to the board.

  function open() {
    clearTimeout(waiting);
    if (source) source.close();
    const url = new URL(stream, location.href);
    url.searchParams.set("after", after);
    source = new EventSource(url);
    source.addEventListener("news", (event) => {
      hear(event);
      take(JSON.parse(event.data));
    });
    source.addEventListener("pulse", hear);
    source.onerror = () => {
      lost();
      // A browser tries again by itself unless the board refused.
      if (source.readyState === EventSource.CLOSED) later();
    };
  }

  function hear(event) {
    if (event.lastEventId) after = event.lastEventId;
    heard = Date.now();
    tries = 0;
    link.textContent = "";
  }

  function later() {
    clearTimeout(waiting);
    tries = Math.min(tries + 1, 5);
    waiting = setTimeout(open, 1000 * 2 ** tries * (0.5 + Math.random()));
  }

  function lost() {
    if (link.textContent) return;
    const time = new Date(heard).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
    link.textContent = `No word from the board since ${time}. What you see is from then.`;
  }

  function look() {
    if (Date.now() - heard < SILENT_MS) return;
    lost();
    open();
    heard = Date.now() - SILENT_MS / 2;
  }

  setInterval(look, 5000);
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") look();
  });
  window.addEventListener("online", open);
  window.addEventListener("pagehide", () => source && source.close());
  window.addEventListener("pageshow", (event) => event.persisted && open());
  open();

  // What the cook says.

  const told = document.getElementById("told");

  function say(words, trouble) {
    if (!told) return;
    told.textContent = words;
    told.className = trouble ? "refused" : "";
    clearTimeout(say.timer);
    say.timer = setTimeout(() => (told.textContent = ""), trouble ? 15000 : 5000);
  }

  async function send(form, data) {
    try {
      const answer = await fetch(form.action, {
        method: "POST",
        body: new URLSearchParams(data),
        headers: { Accept: "application/json" },
        signal: AbortSignal.timeout(8000),
      });
      const said = await answer.json();
      say(said.words, !answer.ok);
      if (answer.ok) form.reset();
    } catch {
      say("The pot was not told: no word from the board. Say it again.", true);
    }
  }

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!/\/say$/.test(new URL(form.action).pathname)) return;
    event.preventDefault();
    const data = new FormData(form, event.submitter);
    for (const details of document.querySelectorAll(".more[open]")) details.open = false;
    say("Telling the pot …");
    send(form, data);
  });

  // Alerts while the page is closed.

  const pocket = document.getElementById("pocket");
  const noted = document.getElementById("pocket-told");

  async function subscribe() {
    if ((await Notification.requestPermission()) !== "granted") return "The phone does not allow it.";
    await navigator.serviceWorker.register("/push.js");
    const ready = await navigator.serviceWorker.ready;
    const key = pocket.dataset.key;
    const given = await ready.pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: key });
    const body = new URLSearchParams(new FormData(pocket));
    body.set("subscription", JSON.stringify(given));
    const answer = await fetch("/push", { method: "POST", body, headers: { Accept: "application/json" } });
    return (await answer.json()).words;
  }

  if (pocket && window.isSecureContext && "serviceWorker" in navigator && "PushManager" in window) {
    pocket.hidden = false;
    pocket.addEventListener("submit", (event) => {
      event.preventDefault();
      subscribe().then(
        (words) => (noted.textContent = words),
        (error) => (noted.textContent = `It did not work: ${error.message}`),
      );
    });
  }

  // Sound, once a hand has allowed it.

  const sound = document.getElementById("sound");
  const button = sound && sound.querySelector("button");
  let audio = null;
  let last = null;

  function tone(at, hertz) {
    const [voice, loud] = [audio.createOscillator(), audio.createGain()];
    voice.frequency.value = hertz;
    loud.gain.setValueAtTime(0.0001, at);
    loud.gain.exponentialRampToValueAtTime(0.4, at + 0.02);
    loud.gain.exponentialRampToValueAtTime(0.0001, at + 0.35);
    voice.connect(loud).connect(audio.destination);
    voice.start(at);
    voice.stop(at + 0.4);
  }

  function ring() {
    if (audio) [0, 0.45, 0.9].forEach((s) => tone(audio.currentTime + s, 880));
  }

  // By ear and, for who cannot see it, in words: which pot, and what it wants.
  function alerted(alert) {
    if (alert && alert !== last) {
      ring();
      const n = alert.split(" ")[0];
      const part = document.querySelector(`#p${n}-glance, #p${n}-pass`);
      const words = [".who", ".what"].map((what) => part?.querySelector(what)?.textContent);
      document.getElementById("heard").textContent = words.filter(Boolean).join(": ");
    }
    last = alert;
  }

  if (button) {
    sound.hidden = false;
    button.addEventListener("click", () => {
      const on = !audio;
      if (on) audio = new AudioContext();
      else audio = (audio.close(), null);
      button.querySelector("span").textContent = on ? "on" : "off";
      if (on) ring();
    });
  }
})();
