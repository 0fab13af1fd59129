// Put behind the page's own script by tests/cli/listen_page.rs. Says what it finds on the console.
(async () => {
  const { Deck, Fader, chance, decode, gainOf, data, state, CHANGE_S, SOUND_MS, VOLUME_DB } = window.brunt;
  const found = {};
  const rate = 48000;
  const tone = (context, hz, seconds, level = 0.5) => {
    const buffer = context.createBuffer(1, Math.round(seconds * rate), rate);
    const samples = buffer.getChannelData(0);
    for (let n = 0; n < samples.length; n += 1) samples[n] = level * Math.sin((2 * Math.PI * hz * n) / rate);
    return buffer;
  };
  // Plays tones from a deck for `seconds`, calling `acts` at their times, and gives the samples.
  const render = async (hz, seconds, acts, level) => {
    const context = new OfflineAudioContext(1, Math.round(seconds * rate), rate);
    const deck = new Deck(context, context.destination);
    deck.start(hz.map((f) => tone(context, f, 0.75, level)), 0, true, 0, 0);
    for (const [time, act] of acts) {
      context.suspend(time).then(() => { act(deck, context.currentTime + 0.005); context.resume(); });
    }
    return (await context.startRendering()).getChannelData(0);
  };
  const steepest = (x) => x.reduce((most, value, n) => (n ? Math.max(most, Math.abs(value - x[n - 1])) : 0), 0);
  const quietest = (x, from, to) => {
    const length = Math.round(0.01 * rate);
    let least = Infinity;
    for (let n = Math.round(from * rate); n + length <= to * rate; n += 48) {
      let sum = 0;
      for (let k = 0; k < length; k += 1) sum += x[n + k] ** 2;
      least = Math.min(least, Math.sqrt(sum / length));
    }
    return least;
  };

  // The same sound in both: what comes out is that sound, through a change and through the loop's seam.
  const same = await render([480, 480], 2, [[0.5, (deck, at) => deck.select(1, at)], [1.2, (deck, at) => deck.select(0, at)]]);
  found.same = same.reduce((most, x, n) => (n < 0.05 * rate ? 0
    : Math.max(most, Math.abs(x - 0.5 * Math.sin((2 * Math.PI * 480 * n) / rate)))), 0);

  // Two sounds: no step is steeper than theirs and the ramp's, and it is never silent in between.
  const other = await render([480, 720], 2, [[0.5, (deck, at) => deck.select(1, at)]]);
  found.other_step = steepest(other);
  found.other_bound = 0.5 * 2 * Math.PI * 720 / rate + 1 / (CHANGE_S * rate);
  found.other_quietest = quietest(other, 0.1, 1.9);
  // Quickly there and back, while the first change is still on its way.
  const quick = await render([480, 720], 2, [
    [0.5, (deck, at) => deck.select(1, at)], [0.508, (deck, at) => deck.select(0, at)], [0.516, (deck, at) => deck.select(1, at)],
  ]);
  found.quick_step = steepest(quick);
  // A change that is not made as the page makes it: it has to be seen.
  const rough = await render([480, 720], 2, [[0.5003, (deck) => {
    deck.lanes[0].fader.node.gain.cancelScheduledValues(0);
    deck.lanes[0].fader.node.gain.value = 0;
    deck.lanes[0].fader.node.gain.setValueAtTime(0, 0.5003);
  }]]);
  found.rough_quietest = quietest(rough, 0.1, 1.9);
  // With a dip, as in the blind comparison: silent in the middle, no step, whether the sound is another or not.
  for (const [name, to] of [["dip_same", 0], ["dip_other", 1]]) {
    const dipped = await render([480, 720], 2, [[0.5, (deck, at) => deck.select(to, at, true)]]);
    found[`${name}_step`] = steepest(dipped);
    found[`${name}_quietest`] = quietest(dipped, 0.1, 1.9);
    found[`${name}_end`] = quietest(dipped, 1.5, 1.9);
  }
  // Start and stop.
  const stopped = await render([480, 720], 1, [[0.5, (deck, at) => deck.stop(at)]]);
  found.stop_step = steepest(stopped);
  found.stop_end = Math.max(...stopped.slice(0.6 * rate).map(Math.abs));

  // What is in the page: length, sum of squares and largest sample of each version, by channel.
  found.audio = (await decode(data.mix.sample_rate_hz)).map((buffer) => {
    const channel = buffer.getChannelData(0);
    return {
      rate: buffer.sampleRate, frames: buffer.length, channels: buffer.numberOfChannels,
      squares: channel.reduce((sum, x) => sum + x * x, 0),
      most: channel.reduce((most, x) => Math.max(most, Math.abs(x)), 0),
    };
  });

  found.chances = [[9, 10], [10, 12], [12, 16], [15, 20], [18, 25], [0, 10], [6, 12], [12, 12], [26, 50], [50, 50], [1, 1]]
    .map(([right, trials]) => chance(right, trials));
  found.no_chance = [[1, 0], [-1, 3], [4, 3], [1.5, 3], [1, 51]].map(([right, trials]) => chance(right, trials));
  found.first_gain = gainOf(state.db);
  found.most_gain = Math.max(...[0, 1, 20, 1e9, Infinity].map(gainOf));
  found.least_gain = gainOf(VOLUME_DB.least);

  // A blind comparison by the keyboard alone.
  const wait = (ms) => new Promise((done) => { setTimeout(done, ms); });
  const key = (name, shiftKey = false) => document.dispatchEvent(new KeyboardEvent("keydown", { key: name, shiftKey, bubbles: true }));
  const pick = document.getElementById("trials");
  pick.value = "10";
  document.getElementById("begin").click();
  await wait(100);
  const hidden = getComputedStyle(document.getElementById("versions")).display;
  key("A", true);
  found.unheard = state.blind.done;
  const truths = [];
  for (let n = 0; n < 10; n += 1) {
    key("a"); key("b"); key("x");
    truths.push(state.blind.truth);
    // Right but in the last.
    const right = state.blind.truth;
    key(n === 9 ? (right === "A" ? "B" : "A") : right, true);
  }
  found.blind = {
    hidden, done: state.blind.done, right: state.blind.right, running: state.blind.running,
    line: document.getElementById("line").value, odds: document.getElementById("odds").textContent,
    shown: !document.getElementById("result").hidden,
  };
  await wait(300);
  found.moves = state.playing && state.context.state === "running" ? state.context.currentTime : null;
  key("2");
  found.second = state.active;
  key("l");
  found.loop = state.loop;
  for (let n = 0; n < 40; n += 1) key("+");
  found.loudest_db = state.db;
  key("p");
  found.playing = state.playing;
  // An output that does not start is said to be the reason for the silence.
  found.said = document.getElementById("state").textContent;
  state.context.resume = () => new Promise(() => {});
  key("p");
  await wait(SOUND_MS + 200);
  found.no_sound = document.getElementById("state").textContent;
  const unlabelled = [...document.querySelectorAll("button, input, select")].filter((control) => {
    const label = control.labels?.[0]?.textContent ?? control.getAttribute("aria-label") ?? control.textContent;
    return !label.trim();
  });
  found.unlabelled = unlabelled.map((control) => control.id);
  found.wide = document.documentElement.scrollWidth - document.documentElement.clientWidth;
  console.log(`FOUND ${JSON.stringify(found)}`);
})().catch((fault) => console.log(`FOUND ${JSON.stringify({ fault: String(fault.stack ?? fault) })}`));
