"use strict";
// The page to listen on: every version runs at once, one of them is heard.
//
// Audio is in the page, as FLAC in base64, since a page that was opened from disk may not read files.
// Nothing here asks the network for anything.
(() => {
  const json = (id) => JSON.parse(document.getElementById(id).textContent);
  const data = json("brunt-listen");
  const say = json("brunt-words");
  const el = (id) => document.getElementById(id);

  // Length of a change from one version to another, s: shorter than a hit's attack is long, and longer
  // than a period of 100 Hz.
  const CHANGE_S = 0.012;
  // Length of the fades where sound starts and stops, and of the dip between two sounds of a blind
  // comparison, s.
  const EDGE_S = 0.025;
  // How far ahead of the clock a change is put, s: what lies behind it cannot be faded any more.
  const AHEAD_S = 0.005;
  // Fades at the ends of a loop within the passage, s.
  const SEAM_S = 0.005;
  // Volume at first, least and most, dB under the files' own level.
  const VOLUME_DB = { first: -12, least: -48, most: 0 };
  // Time that a browser has to start its output, ms, before the page says that nothing is heard.
  const SOUND_MS = 2000;
  // Most trials: whole numbers of this size are exact.
  const MOST_TRIALS = 50;

  const gainOf = (db) => (db <= VOLUME_DB.least ? 0 : 10 ** (Math.min(db, VOLUME_DB.most) / 20));

  // A gain that moves on straight lines, and knows where it is.
  class Fader {
    constructor(context, value) {
      this.node = context.createGain();
      this.node.gain.value = value;
      this.lines = [{ from: value, to: value, start: 0, end: 0 }];
    }
    line(time) {
      return this.lines.findLast((line) => time >= line.start) ?? this.lines[0];
    }
    at(time) {
      const { from, to, start, end } = this.line(time);
      if (time >= end) return to;
      return time <= start ? from : from + ((to - from) * (time - start)) / (end - start);
    }
    // Leaves every line that was planned, and goes to `to` from where it is at `start`.
    move(to, start, length) {
      const from = this.at(start);
      const last = this.line(start);
      const gain = this.node.gain;
      gain.cancelScheduledValues(start);
      // A line that is still on its way was taken back whole: it goes as far as here.
      if (start > last.start && start < last.end) gain.linearRampToValueAtTime(from, start);
      else gain.setValueAtTime(from, start);
      gain.linearRampToValueAtTime(to, start + length);
      this.lines = [{ from, to, start, end: start + length }];
    }
    // Goes on to `to` from where the last line ends.
    then(to, length) {
      const last = this.lines[this.lines.length - 1];
      this.node.gain.linearRampToValueAtTime(to, last.end + length);
      this.lines.push({ from: last.to, to, start: last.end, end: last.end + length });
    }
  }

  // All versions side by side at the same place of the song.
  class Deck {
    constructor(context, destination) {
      this.context = context;
      this.destination = destination;
      this.lanes = [];
      this.active = 0;
    }
    // Starts all buffers at once, `offset` s from their start, and lets number `active` be heard.
    start(buffers, offset, loop, active, when) {
      this.active = active;
      const end = Math.min(...buffers.map((buffer) => buffer.duration));
      this.lanes = buffers.map((buffer, n) => {
        const source = this.context.createBufferSource();
        const fader = new Fader(this.context, 0);
        Object.assign(source, { buffer, loop, loopStart: 0, loopEnd: end });
        source.connect(fader.node).connect(this.destination);
        source.start(when, offset);
        fader.move(n === active ? 1 : 0, when, EDGE_S);
        return { source, fader };
      });
    }
    // Lets another be heard from `when` on. With a dip the sound goes before the other comes, whichever
    // the other is, so that the seam itself gives nothing away.
    select(n, when, dip = false) {
      this.active = n;
      if (!dip) {
        this.lanes.forEach(({ fader }, k) => fader.move(k === n ? 1 : 0, when, CHANGE_S));
        return;
      }
      this.lanes.forEach(({ fader }) => fader.move(0, when, EDGE_S));
      this.lanes[n]?.fader.then(1, EDGE_S);
    }
    loop(on) {
      this.lanes.forEach((lane) => { lane.source.loop = on; });
    }
    stop(when) {
      this.lanes.forEach((lane) => {
        lane.fader.move(0, when, EDGE_S);
        lane.source.stop(when + EDGE_S);
      });
      this.lanes = [];
    }
  }

  // Probability of `right` or more right answers in `trials` by guessing: exact, since every sum of
  // binomial coefficients under 2^53 is.
  const chance = (right, trials) => {
    if (!(Number.isInteger(right) && Number.isInteger(trials))) return null;
    if (trials < 1 || trials > MOST_TRIALS || right < 0 || right > trials) return null;
    let ways = 1;
    let sum = 0;
    for (let k = 0; k <= trials; k += 1) {
      if (k >= right) sum += ways;
      ways = (ways * (trials - k)) / (k + 1);
    }
    return sum / 2 ** trials;
  };

  // The files' samples. The context only decodes: it needs no permission to sound.
  const decode = async (rate) => {
    const context = new OfflineAudioContext(2, 1, rate);
    const all = [];
    for (const script of document.querySelectorAll("script[data-audio]")) {
      const text = atob(script.textContent.trim());
      const bytes = new Uint8Array(text.length);
      for (let n = 0; n < text.length; n += 1) bytes[n] = text.charCodeAt(n);
      all.push(await context.decodeAudioData(bytes.buffer));
    }
    return all;
  };

  // A piece of a buffer from `from` to `to` s, with short fades where it is cut.
  const piece = (buffer, from, to) => {
    const rate = buffer.sampleRate;
    const first = Math.round(from * rate);
    const frames = Math.max(1, Math.round(to * rate) - first);
    const cut = new AudioBuffer({
      length: frames, numberOfChannels: buffer.numberOfChannels, sampleRate: rate,
    });
    const fade = Math.min(Math.round(SEAM_S * rate), Math.floor(frames / 2));
    for (let channel = 0; channel < buffer.numberOfChannels; channel += 1) {
      const samples = buffer.getChannelData(channel).slice(first, first + frames);
      for (let n = 0; n < fade; n += 1) {
        const share = (n + 0.5) / fade;
        if (first > 0) samples[n] *= share;
        if (first + frames < buffer.length) samples[samples.length - 1 - n] *= share;
      }
      cut.copyToChannel(samples, channel);
    }
    return cut;
  };

  const rate = data.mix.sample_rate_hz;
  const length = data.passage.to_s - data.passage.from_s;
  const names = data.versions.map((version) => version.name);
  const clock = (s) => {
    const whole = Math.max(0, s);
    const tenths = Math.floor((whole % 60) * 10) / 10;
    return `${Math.floor(whole / 60)}:${tenths.toFixed(1).padStart(4, "0")}`;
  };
  const fill = (text, values) => text.replace(/\{(\w+)\}/g, (_, name) => values[name]);

  const state = {
    buffers: null, loading: null, context: null, volume: null, deck: null,
    playing: false, active: 0, loop: true, region: null, base: { time: 0, offset: 0 },
    db: VOLUME_DB.first, blind: null,
  };

  const region = () => state.region ?? { from: 0, to: length };

  // Place in the passage, s.
  const place = () => {
    if (!state.playing) return state.base.offset;
    const { from, to } = region();
    const gone = state.base.offset - from + Math.max(0, state.context.currentTime - state.base.time);
    const span = to - from;
    return from + (state.loop ? gone % span : Math.min(gone, span));
  };

  const load = () => {
    state.loading ??= decode(rate).then((buffers) => {
      state.buffers = buffers;
      draw();
      el("state").textContent = say.ready;
      el("play").disabled = false;
    }).catch((fault) => {
      el("state").textContent = fill(say.failed, { why: fault.message });
    });
    return state.loading;
  };

  const sound = () => {
    if (state.context) return;
    state.context = new AudioContext({ sampleRate: rate, latencyHint: "interactive" });
    state.volume = new Fader(state.context, 0);
    state.volume.node.connect(state.context.destination);
    state.volume.move(gainOf(state.db), state.context.currentTime, EDGE_S);
    state.deck = new Deck(state.context, state.volume.node);
  };

  const soon = () => state.context.currentTime + AHEAD_S;

  const play = async (from = null) => {
    await load();
    if (!state.buffers) return;
    sound();
    // Without an output device a browser waits for ever, and says nothing.
    const late = setTimeout(() => { el("state").textContent = say.no_sound; }, SOUND_MS);
    await state.context.resume();
    clearTimeout(late);
    el("state").textContent = say.ready;
    const { from: first, to } = region();
    let offset = from ?? state.base.offset;
    if (offset < first || offset >= to - 0.01) offset = first;
    const when = soon();
    state.deck.stop(when);
    const buffers = state.region
      ? state.buffers.map((buffer) => piece(buffer, first, to)) : state.buffers;
    state.deck.start(buffers, offset - first, state.loop, heard(), when);
    const source = state.deck.lanes[0].source;
    source.onended = () => {
      // Only the one that still plays: others were stopped on purpose.
      if (state.playing && state.deck.lanes[0]?.source === source) halt(first);
    };
    state.base = { time: when, offset };
    state.playing = true;
    show();
    requestAnimationFrame(tick);
  };

  const halt = (at = null) => {
    if (!state.playing) return;
    const offset = at ?? place();
    state.deck.stop(soon());
    state.playing = false;
    state.base = { time: 0, offset };
    show();
  };

  const toggle = () => (state.playing ? halt() : play());

  // The version that is heard: in a blind comparison what its letter stands for.
  const heard = () => (state.blind?.running ? state.blind.of[state.blind.letter] : state.active);

  const select = (n) => {
    if (n < 0 || n >= data.versions.length || state.blind?.running) return;
    state.active = n;
    if (state.playing) state.deck.select(n, soon());
    draw();
    show();
  };

  const seek = (s) => {
    const { from, to } = region();
    const at = Math.min(Math.max(s, from), to - 0.02);
    if (state.playing) play(at);
    else state.base = { time: 0, offset: at };
    show();
  };

  const setLoop = (on) => {
    const at = place();
    if (state.playing) state.base = { time: state.context.currentTime, offset: at };
    state.loop = on;
    state.deck?.loop(on);
    show();
  };

  // Marks one end of the loop where the song is.
  const mark = (end) => {
    const at = place();
    const now = region();
    const next = end === "from" ? { from: at, to: now.to } : { from: now.from, to: at };
    // Half a second at least, or it is a tone and no loop.
    if (next.to - next.from < 0.5) return;
    setRegion(next);
  };
  const setRegion = (next) => {
    const at = place();
    state.region = next && next.to - next.from < length - 0.05 ? next : null;
    if (state.playing) play(at);
    else state.base.offset = Math.max(region().from, Math.min(at, region().to));
    show();
  };

  const setVolume = (db) => {
    state.db = Math.min(VOLUME_DB.most, Math.max(VOLUME_DB.least, db));
    state.volume?.move(gainOf(state.db), soon(), 0.05);
    show();
  };

  // ---- pictures

  const COLUMNS = 480;
  const draw = () => {
    const buffer = state.buffers?.[state.active];
    if (!buffer) return;
    const step = buffer.length / COLUMNS;
    const channels = Array.from({ length: buffer.numberOfChannels }, (_, c) => buffer.getChannelData(c));
    const top = state.top ??= Math.max(1e-6, ...state.buffers.map((other) => {
      let most = 0;
      for (let c = 0; c < other.numberOfChannels; c += 1) {
        for (const x of other.getChannelData(c)) most = Math.max(most, Math.abs(x));
      }
      return most;
    }));
    const [over, body] = [[], []];
    for (let n = 0; n < COLUMNS; n += 1) {
      const [first, last] = [Math.floor(n * step), Math.floor((n + 1) * step)];
      let [peak, sum] = [0, 0];
      for (const samples of channels) {
        for (let k = first; k < last; k += 1) {
          peak = Math.max(peak, Math.abs(samples[k]));
          sum += samples[k] * samples[k];
        }
      }
      over.push(peak / top);
      body.push(Math.sqrt(sum / Math.max(1, (last - first) * channels.length)) / top);
    }
    const area = (heights) => {
      const up = heights.map((h, n) => `${n} ${(50 - 48 * h).toFixed(1)}`);
      const down = heights.map((h, n) => `${n} ${(50 + 48 * h).toFixed(1)}`).reverse();
      return `M${up.join("L")}L${down.join("L")}Z`;
    };
    el("peaks").setAttribute("d", area(over));
    el("body").setAttribute("d", area(body));
  };

  const tick = () => {
    if (!state.playing) return;
    showPlace();
    requestAnimationFrame(tick);
  };
  const showPlace = () => {
    const at = place();
    el("head").style.left = `${(100 * at) / length}%`;
    const seekbar = el("seek");
    if (document.activeElement !== seekbar || state.playing) seekbar.value = at.toFixed(2);
    seekbar.setAttribute("aria-valuetext", clock(at));
    el("time").textContent = `${clock(at)} / ${clock(length)}`;
  };

  const show = () => {
    const blind = Boolean(state.blind?.running);
    document.body.classList.toggle("blind", blind);
    el("play").setAttribute("aria-pressed", state.playing);
    el("play").querySelector(".word").textContent = state.playing ? say.stop : say.play;
    el("play").classList.toggle("on", state.playing);
    el("loop").setAttribute("aria-pressed", state.loop);
    const { from, to } = region();
    el("region").style.left = `${(100 * from) / length}%`;
    el("region").style.width = `${(100 * (to - from)) / length}%`;
    el("region").hidden = !state.region;
    el("whole").disabled = !state.region;
    el("volume").value = state.db;
    const level = state.db <= VOLUME_DB.least ? say.silent : `${String(state.db).replace("-", "\u2212")} dB`;
    el("level").textContent = level;
    el("volume").setAttribute("aria-valuetext", level);
    document.querySelectorAll(".version").forEach((row, n) => {
      const on = n === state.active;
      row.classList.toggle("on", on);
      row.querySelector("input").checked = on;
    });
    el("now").textContent = blind ? say.hidden : names[state.active];
    showPlace();
    showBlind();
  };

  // ---- blind comparison

  const coin = () => (crypto.getRandomValues(new Uint8Array(1))[0] & 1 ? "A" : "B");

  const startBlind = () => {
    const [a, b] = [Number(el("pick-a").value), Number(el("pick-b").value)];
    el("same").hidden = a !== b;
    if (a === b) return;
    const trials = Math.min(MOST_TRIALS, Math.max(1, Number(el("trials").value)));
    state.blind = {
      running: true, pair: [a, b], trials, done: 0, right: 0, letter: "A",
      of: { A: a, B: b, X: a }, truth: "A", heardX: false,
    };
    nextTrial();
    play();
    el("hear-x").focus();
  };
  const nextTrial = () => {
    const blind = state.blind;
    blind.truth = coin();
    blind.of.X = blind.of[blind.truth];
    blind.heardX = false;
    hear("A");
  };
  const hear = (letter) => {
    const blind = state.blind;
    if (!blind?.running) return;
    blind.letter = letter;
    if (letter === "X") blind.heardX = true;
    if (state.playing) state.deck.select(blind.of[letter], soon(), true);
    else play();
    show();
  };
  const answer = (letter) => {
    const blind = state.blind;
    if (!blind?.running || !blind.heardX) return;
    blind.done += 1;
    blind.right += letter === blind.truth ? 1 : 0;
    if (blind.done >= blind.trials) endBlind();
    else {
      nextTrial();
      el("hear-x").focus();
    }
  };
  const endBlind = () => {
    const blind = state.blind;
    blind.running = false;
    if (state.playing) state.deck.select(state.active, soon(), true);
    show();
    (blind.done ? el("line") : el("begin")).focus();
  };
  const resultLine = () => {
    const blind = state.blind;
    const now = new Date();
    const day = [now.getFullYear(), now.getMonth() + 1, now.getDate()]
      .map((part) => String(part).padStart(2, "0")).join("-");
    return fill(blind.done < blind.trials ? say.line_short : say.line, {
      mix: data.mix.file.split(/[/\\]/).pop(),
      from: clock(data.passage.from_s), to: clock(data.passage.to_s),
      a: names[blind.pair[0]], b: names[blind.pair[1]],
      right: blind.right, done: blind.done, trials: blind.trials,
      chance: chance(blind.right, blind.done).toPrecision(3), day,
    });
  };
  const showBlind = () => {
    const blind = state.blind;
    const [running, over] = [Boolean(blind?.running), Boolean(blind && !blind.running && blind.done)];
    el("setup").hidden = running;
    el("trial").hidden = !running;
    el("result").hidden = !over;
    if (running) {
      el("count").textContent = fill(say.trial, { n: blind.done + 1, trials: blind.trials });
      for (const letter of ["A", "B", "X"]) {
        const on = state.playing && blind.letter === letter;
        el(`hear-${letter.toLowerCase()}`).setAttribute("aria-pressed", on);
      }
      el("is-a").disabled = !blind.heardX;
      el("is-b").disabled = !blind.heardX;
      el("first").textContent = blind.heardX ? say.decide : say.hear_x;
    }
    if (over) {
      const percent = 100 * chance(blind.right, blind.done);
      const shown = percent < 0.1 ? "< 0.1" : percent.toFixed(1);
      el("score").textContent = fill(say.score, { right: blind.right, done: blind.done });
      el("odds").textContent = fill(say.odds, { percent: shown });
      el("line").value = resultLine();
    }
  };
  const copy = async () => {
    const line = el("line");
    line.select();
    try {
      await navigator.clipboard.writeText(line.value);
    } catch {
      // A page from disk may not reach the clipboard that way in every browser.
      document.execCommand("copy");
    }
    el("copied").textContent = say.copied;
  };

  // ---- controls

  const on = (id, event, act) => el(id)?.addEventListener(event, act);
  on("play", "click", toggle);
  on("loop", "click", () => setLoop(!state.loop));
  on("mark-from", "click", () => mark("from"));
  on("mark-to", "click", () => mark("to"));
  on("whole", "click", () => setRegion(null));
  on("seek", "input", (event) => seek(Number(event.target.value)));
  on("volume", "input", (event) => setVolume(Number(event.target.value)));
  on("begin", "click", startBlind);
  on("give-up", "click", () => endBlind());
  on("copy", "click", copy);
  for (const letter of ["A", "B", "X"]) on(`hear-${letter.toLowerCase()}`, "click", () => hear(letter));
  on("is-a", "click", () => answer("A"));
  on("is-b", "click", () => answer("B"));
  document.querySelectorAll(".version input").forEach((input, n) => {
    input.addEventListener("change", () => select(n));
  });

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const target = event.target;
    const kind = target.tagName === "INPUT" ? target.type : target.tagName;
    if (kind === "text" || kind === "SELECT" || kind === "TEXTAREA") return;
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    const act = {
      p: toggle,
      l: () => setLoop(!state.loop),
      "[": () => mark("from"),
      "]": () => mark("to"),
      "\\": () => setRegion(null),
      ",": () => seek(place() - 1),
      ".": () => seek(place() + 1),
      "-": () => setVolume(state.db - 2),
      "+": () => setVolume(state.db + 2),
      "=": () => setVolume(state.db + 2),
      a: () => (event.shiftKey ? answer("A") : hear("A")),
      b: () => (event.shiftKey ? answer("B") : hear("B")),
      x: () => hear("X"),
      " ": kind === "BUTTON" || kind === "A" || kind === "SUMMARY" ? null : toggle,
    }[key] ?? (/^[1-9]$/.test(key) ? () => select(Number(key) - 1) : null);
    if (!act) return;
    event.preventDefault();
    act();
  });

  show();
  load();

  // For checks of the page from outside.
  window.brunt = { Deck, Fader, chance, decode, piece, gainOf, data, state, CHANGE_S, EDGE_S, SOUND_MS, VOLUME_DB };
})();
