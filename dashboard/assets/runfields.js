// The fields of a run's form: what stands in them, heights read again, the order of the walk. `run.form` is the open
// form (see runform.js); what is typed lies in its record, so that the page and the phone's storage say the same.
(function () {
    "use strict";
    const { $, say, stored } = window.dom;
    const run = (window.run = window.run || {});
    const CORNERS = ["LF", "RF", "LR", "RR"]; // as the log orders them
    const WALK = ["LF", "RF", "RR", "LR"]; // as one walks round
    const READS = 4; // heights that a corner has room for
    const START = "tuning/start";

    const nameOf = (control) => control.id.slice("log-".length);
    const value = (name) => run.form.record.values[name] || "";
    const heightsOf = (corner) => Array.from({ length: READS }, (_, i) => corner + "-height" + (i ? "-" + (i + 1) : ""));
    const isRead = (corner) => [...heightsOf(corner), corner + "-load"].some((name) => value(name).trim());
    const unit = () => (run.form.data.units === "us" ? " in" : " mm");

    function controls() {
        return Array.from(document.querySelectorAll("#log-form input[id^=log-], #log-form select[id^=log-]"));
    }

    function set(name, text) {
        run.form.record.values[name] = text;
        const control = $("log-" + name);
        if (control && control.tagName === "SELECT") {
            control.value = text;
        } else {
            say("log-" + name, { value: text });
        }
    }

    function paint() {
        Object.entries(run.form.record.values).forEach(([name, text]) => set(name, text));
        CORNERS.forEach((corner) => showRepeats(corner));
    }

    function focus(name) {
        const control = $("log-" + name);
        if (control) {
            control.focus();
            if (control.select) {
                control.select();
            }
        }
    }

    // A height that was read again has a field of its own; their mean and spread stand below. more: open one more.
    function showRepeats(corner, more = 0) {
        const names = heightsOf(corner);
        const used = 1 + Math.max(0, ...names.map((name, i) => (value(name).trim() ? i : 0)));
        const open = Math.min(READS, Math.max(used, run.form.open[corner] || 1) + more);
        run.form.open[corner] = open;
        names.forEach((name, i) => $("place-" + name) && ($("place-" + name).hidden = i >= open));
        if ($("again-" + corner)) {
            $("again-" + corner).hidden = open === READS;
            $("mean-" + corner).textContent = meanOf(names.map((name) => window.tape.read(value(name), run.form.data.units)));
        }
    }

    function readAgain(corner) {
        showRepeats(corner, 1);
        focus(heightsOf(corner)[run.form.open[corner] - 1]);
    }

    function meanOf(heights) {
        const read = heights.filter((height) => height !== null);
        if (read.length < 2) {
            return "";
        }
        const mean = read.reduce((sum, height) => sum + height, 0) / read.length;
        const apart = window.tape.write(Math.max(...read) - Math.min(...read), run.form.data.units);
        const places = run.form.data.units === "us" ? 2 : 1;
        return `Mean ${mean.toFixed(places)}${unit()} of ${read.length}, ${apart}${unit()} apart.`;
    }

    // The walk begins where the owner wants, and on this phone it stays so.
    function order(start) {
        const known = start || stored((shelf) => shelf.getItem(START));
        const first = Math.max(WALK.indexOf(known), 0);
        const walk = [...WALK.slice(first), ...WALK.slice(0, first)];
        $("log-corners").append(...walk.map((corner) => $("corner-" + corner)));
        $("walk-start").value = walk[0];
        if (start) {
            stored((shelf) => shelf.setItem(START, start));
        }
    }

    // The pad of the field in hand, where it is a length.
    function showPad(name) {
        if (!isLength(name)) {
            window.pad.remove();
            return;
        }
        window.pad.show($("pad-" + name.replace(/-\d$/, "")), {
            name: name,
            words: name.replace("-", " ").replace(/-(\d)$/, " reading $1"),
            units: run.form.data.units,
            text: () => value(name),
            before: beforeOf(name),
            advised: name.endsWith("preload") && run.form.data.advised[name.slice(0, 2)],
            write: (text) => write(name, text),
        });
    }

    const isLength = (name) => /-(height(-\d)?|preload)$/.test(name);
    const beforeOf = (name) => run.form.before[name.replace(/-\d$/, "")] || "";

    function write(name, text) {
        set(name, text);
        run.changed(name, text);
    }

    function step(name, ways) {
        write(name, window.tape.step(value(name), ways, beforeOf(name), run.form.data.units));
    }

    Object.assign(run, { CORNERS, nameOf, value, heightsOf, isRead, unit, controls, set, paint, focus });
    Object.assign(run, { showRepeats, readAgain, order, showPad, isLength, step });
})();
