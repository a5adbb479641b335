// Turns under a hand. A slider is followed at once, but the server is asked one question at a time and always the
// latest: an answer that is late must not hold up the next. What was really turned is counted here, nut by nut, and
// kept in the browser's storage for as long as the run it was counted from is the latest.
(function () {
    "use strict";
    const PLACE = "tuning/turns/";
    const PATIENCE = 8000; // ms until a question without an answer no longer holds up the next
    const EIGHTHS = ["", "⅛", "¼", "⅜", "½", "⅝", "¾", "⅞"];
    const SAME = 1e-6;
    let now = null; // the page that is open: its store, where it stands, turns planned and turned

    const $ = (id) => document.getElementById(id);
    const say = (id, properties) => window.dash_clientside.set_props(id, properties);
    const same = (one, other) => Object.keys(one).every((c) => Math.abs(one[c] - (other[c] || 0)) < SAME);

    function element(tag, text, more, ...children) {
        const made = Object.assign(document.createElement(tag), more);
        made.append(...(text ? [text] : []), ...children);
        return made;
    }

    // 2¼; decimals where it is no eighth.
    function turns(count) {
        const parts = Math.round(Math.abs(count) * 8);
        if (Math.abs(Math.abs(count) * 8 - parts) > SAME) {
            return String(Number(Math.abs(count).toFixed(2)));
        }
        return (Math.floor(parts / 8) || "") + EIGHTHS[parts % 8] || "0";
    }

    const many = (count) => turns(count) + (Math.abs(count) > 1 ? " turns" : " turn");
    const way = (count) => (count > 0 ? "down, raises" : "up, lowers");

    // ---------------------------------------------------------------- keeping

    function stored(action) {
        try {
            return action(window.localStorage);
        } catch {
            return undefined; // forbidden or full: it still counts, until the page is left
        }
    }

    const truckPlace = (store) => PLACE + store.log + "/" + encodeURIComponent(store.truck) + "/";
    const place = (store) => truckPlace(store) + encodeURIComponent(store.run);

    function kept(store) {
        try {
            return JSON.parse(stored((shelf) => shelf.getItem(place(store)))) || null;
        } catch {
            return null;
        }
    }

    function keep() {
        const { store, plan, turned, at } = now;
        const own = place(store);
        const text = JSON.stringify({ plan, turned, at, advised: store.advised });
        const nothing = same(turned, {}) && same(plan, store.advised);
        stored((shelf) => {
            // What was counted from an earlier run is in the log by now.
            Object.keys(shelf)
                .filter((name) => name.startsWith(truckPlace(store)) && name !== own)
                .forEach((name) => shelf.removeItem(name));
            if (nothing) {
                shelf.removeItem(own);
            } else {
                shelf.setItem(own, text);
            }
        });
        now.unkept = !nothing && stored((shelf) => shelf.getItem(own)) !== text;
    }

    // ---------------------------------------------------------------- the plan: sliders, steps, keys

    function held(corner, value) {
        const [low, high] = now.store.rooms[corner];
        return Math.min(Math.max(value, low), high);
    }

    function move(corner, by) {
        say({ type: "adjust-slider", corner: corner }, { value: held(corner, now.plan[corner] + by) });
    }

    // A turn, in whole steps of the nut.
    function turn(corner) {
        const step = now.store.rooms[corner][2];
        return Math.max(Math.round(1 / step), 1) * step;
    }

    function open(plan, store, node) {
        now = { store: store, node: node, plan: plan, turned: {}, at: "", changed: false, rows: {} };
        take(kept(store));
        draw();
    }

    // What was kept, unless nothing was turned yet and the advice is another by now.
    function take(memory) {
        const { store } = now;
        Object.keys(store.advised).forEach((c) => (now.turned[c] = (memory && memory.turned[c]) || 0));
        now.at = memory ? memory.at : "";
        if (!memory) {
            return;
        }
        const another = !same(store.advised, memory.advised);
        now.changed = another && !same(now.turned, {});
        if (!another || now.changed) {
            Object.keys(store.advised).forEach((c) => {
                const value = held(c, memory.plan[c] === undefined ? store.advised[c] : memory.plan[c]);
                if (Math.abs(value - now.plan[c]) > SAME) {
                    say({ type: "adjust-slider", corner: c }, { value: value });
                }
            });
        }
    }

    function follow(values, where, store) {
        const node = $("adjust-count");
        if (!store || !store.advised || !where.length || !node) {
            now = null;
            return "";
        }
        const plan = {};
        where.forEach((id, i) => (plan[id.corner] = values[i]));
        if (!now || now.node !== node) {
            open(plan, store, node);
            tell();
        } else {
            now.plan = plan;
            keep();
            ask();
            draw();
        }
        return "counts";
    }

    // ---------------------------------------------------------------- the answer

    // One question at a time, then the latest: an answer comes back to find the hand elsewhere.
    async function ask() {
        const here = now;
        if (here.asking) {
            return;
        }
        here.asking = true;
        try {
            for (let plan = null; here === now && plan !== here.plan; ) {
                plan = here.plan;
                const query = new URLSearchParams(Object.assign({ truck: here.store.truck, state: here.store.state.join() }, plan));
                const answer = await fetch("/adjust/try?" + query, { signal: AbortSignal.timeout(PATIENCE) });
                if (answer.ok && here === now) {
                    picture(await answer.json());
                }
            }
        } catch {
            // No answer: the head of the page says so, and the next move asks again.
        }
        here.asking = false;
    }

    function picture(answer) {
        for (const part of document.querySelectorAll("[data-live]")) {
            const [text, name, style] = answer.drawn[part.dataset.live] || [part.textContent, part.className, {}];
            if (part.textContent !== text) {
                part.textContent = text;
            }
            part.className = name || "";
            Object.assign(part.style, style);
        }
        for (const nut of document.querySelectorAll("#adjust-nuts [data-nut]")) {
            nut.querySelector("[role=slider]").setAttribute("aria-valuetext", nut.querySelector(".turns").firstChild.textContent);
        }
        const notes = JSON.stringify(answer.notes);
        if (notes !== now.notes) {
            now.notes = notes;
            say("adjust-notes", { children: answer.notes });
        }
    }

    // ---------------------------------------------------------------- the count

    function count(corner, value) {
        now.turned[corner] = Math.abs(value) < SAME ? 0 : value;
        const at = new Date();
        const two = (number) => String(number).padStart(2, "0");
        now.at = [at.getFullYear(), two(at.getMonth() + 1), two(at.getDate())].join("-");
        now.at += " " + two(at.getHours()) + ":" + two(at.getMinutes());
        keep();
        draw();
        tell();
    }

    function tell() {
        say("adjust-turned", { data: { turns: now.turned, at: now.at } });
    }

    function draw() {
        const corners = Object.keys(now.store.advised);
        if (!now.node.hasChildNodes()) {
            now.remark = element("p", "", { className: "more", role: "status" });
            now.node.append(...corners.map(row), now.remark);
        }
        corners.forEach(show);
        const said = [];
        if (now.changed) {
            said.push("The advice is another than when these were begun: look at the turns above.");
        }
        if (now.unkept) {
            said.push("This browser keeps nothing: do not close or reload the page before you are done.");
        }
        now.remark.textContent = said.join(" ");
    }

    function row(corner) {
        const step = now.store.rooms[corner][2];
        const parts = { goal: element("span"), made: element("b"), bar: element("progress"), all: null };
        const tap = (text, by, label) =>
            element("button", text, { type: "button", className: "tap", ariaLabel: label, onclick: () => add(corner, by) });
        const one = turn(corner);
        const steps = [tap("− " + turns(one), -one, corner + " count " + many(one) + " less")];
        if (step < one) {
            steps.push(tap("− " + turns(step), -step, corner + " count " + many(step) + " less"));
            steps.push(tap("+ " + turns(step), step, corner + " count " + many(step) + " more"));
        }
        steps.push(tap("+ " + turns(one), one, corner + " count " + many(one) + " more"));
        parts.all = element("button", "", { type: "button", className: "tap all" });
        parts.all.onclick = () => count(corner, now.plan[corner]);
        parts.bar.setAttribute("aria-label", corner + " turns made");
        now.rows[corner] = parts;
        const words = element("p", "", {}, element("b", corner, { className: "name" }), " ", parts.goal);
        const state = element("p", "", { className: "made" }, parts.made);
        const buttons = element("div", "", { className: "taps" }, ...steps);
        return element("section", "", { className: "count", ariaLabel: corner + " count" }, words, state, parts.bar, buttons, parts.all);
    }

    // A count runs the way the plan goes: one more of five turns up is one more, not one less.
    const sense = (corner) => (now.plan[corner] < 0 ? -1 : 1);

    function add(corner, by) {
        count(corner, now.turned[corner] + by * sense(corner));
    }

    function show(corner) {
        const { goal, made, bar, all } = now.rows[corner];
        const plan = now.plan[corner];
        const turned = now.turned[corner];
        const left = (plan - turned) * sense(corner);
        const finished = Math.abs(left) < SAME;
        goal.textContent = Math.abs(plan) < SAME ? "leave it" : many(plan) + " " + way(plan);
        bar.max = Math.max(Math.abs(plan), SAME);
        bar.value = Math.abs(plan) < SAME ? bar.max : Math.max(turned * sense(corner), 0);
        made.textContent = progress(corner, left, finished);
        made.className = finished ? "inside" : left < 0 ? "outside" : "";
        all.textContent = finished ? "Done ✓" : "All " + turns(plan) + " done";
        all.hidden = Math.abs(plan) < SAME && finished;
        all.disabled = finished;
    }

    function progress(corner, left, finished) {
        const plan = now.plan[corner];
        const turned = now.turned[corner];
        if (Math.abs(plan) < SAME && finished) {
            return "✓ nothing to turn";
        }
        if (finished) {
            return "✓ all " + turns(plan) + " made";
        }
        if (turned * sense(corner) < -SAME) {
            return "▼ " + turns(turned) + " made the other way";
        }
        return left < 0
            ? "▲ " + turns(turned) + " made, " + turns(left) + " too many"
            : turns(turned) + " of " + turns(plan) + " made, " + turns(left) + " to go";
    }

    // ---------------------------------------------------------------- hands

    document.addEventListener("click", (event) => {
        const button = now && event.target.closest && event.target.closest("#adjust-nuts button");
        if (!button) {
            return;
        }
        if (button.id === "adjust-reset") {
            now.changed = false;
            Object.entries(now.store.advised).forEach(([c, value]) => say({ type: "adjust-slider", corner: c }, { value: value }));
        } else if (button.dataset.way) {
            const corner = button.closest("[data-nut]").dataset.nut;
            move(corner, Number(button.dataset.way) * now.store.rooms[corner][2]);
        }
    });

    // The slider itself knows arrows, Home and End; a whole turn at a time is ours.
    document.addEventListener(
        "keydown",
        (event) => {
            const up = { PageUp: 1, PageDown: -1 }[event.key] || (event.shiftKey && { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1 }[event.key]);
            const nut = up && now && event.target.closest && event.target.closest("#adjust-nuts [data-nut]");
            if (nut && event.target.getAttribute("role") === "slider") {
                event.preventDefault();
                event.stopPropagation();
                move(nut.dataset.nut, up * turn(nut.dataset.nut));
            }
        },
        true
    );

    window.addEventListener("storage", (event) => {
        if (now && document.contains(now.node) && event.key === place(now.store)) {
            take(kept(now.store)); // another tab counted
            draw();
            tell();
        }
    });

    window.dash_clientside = Object.assign({}, window.dash_clientside, { adjust: { follow } });
})();
