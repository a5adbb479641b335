// What was typed on its way to the log: runs, positions of a cycle walk. Each is one record in the browser's storage,
// under a key of its own, in one of three states: "open", being typed; "waiting", to be sent; "back", refused and in
// somebody's hands again. It goes out as plain JSON, again and again until there is an answer; the server knows the key
// and saves it once. A record brings its route, and what it is called; `page`: where it is typed; `seen`: where one sees
// it once it is saved.
(function () {
    "use strict";
    const { element, button, stored } = window.dom;
    const PLACE = "tuning/run/";
    const LAST = "tuning/last";
    const PATIENCE = 8000; // ms until a server that says nothing is given up
    const FIRST_WAIT = 2000;
    const LONGEST_WAIT = 30000;
    const UNSEEN = 1000; // ms in which a save may go through before anybody is told that it waits
    const memory = new Map(); // what the storage would not take: full, or a private window
    let sending = false;
    let wait = FIRST_WAIT;
    let timer = 0;
    let trouble = "";
    let held = ""; // key of the record that the form on this page shows

    // ---------------------------------------------------------------- keeping

    function newKey() {
        // Not randomUUID: browsers have that on https only.
        const bytes = crypto.getRandomValues(new Uint8Array(16));
        return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
    }

    function put(record) {
        const kept = stored((shelf) => {
            shelf.setItem(PLACE + record.key, JSON.stringify(record));
            return true;
        });
        if (kept) {
            memory.delete(record.key);
        } else {
            memory.set(record.key, record);
        }
        show();
    }

    function get(key) {
        const text = stored((shelf) => shelf.getItem(PLACE + key));
        return memory.get(key) || parsed(text) || null;
    }

    function drop(key) {
        memory.delete(key);
        stored((shelf) => shelf.removeItem(PLACE + key));
        show();
    }

    // By a person, who is asked once more. Returns whether it is gone.
    function throwAway(record) {
        const sure = window.confirm(`Throw ${record.name} away? What was typed is gone for good.`);
        if (sure) {
            drop(record.key);
        }
        return sure;
    }

    function all() {
        const keys = stored((shelf) => Object.keys(shelf)) || [];
        const found = keys.filter((name) => name.startsWith(PLACE)).map((name) => get(name.slice(PLACE.length)));
        for (const record of memory.values()) {
            if (!found.some((one) => one && one.key === record.key)) {
                found.push(record);
            }
        }
        return found.filter(Boolean);
    }

    function parsed(text) {
        try {
            return JSON.parse(text);
        } catch {
            return null;
        }
    }

    function waiting() {
        const found = all().filter((record) => record.state === "waiting");
        return found.sort((a, b) => a.asked - b.asked || (a.key < b.key ? -1 : 1));
    }

    // ---------------------------------------------------------------- sending

    function send(record) {
        record.state = "waiting";
        record.asked = Date.now();
        put(record);
        wait = FIRST_WAIT;
        setTimeout(show, UNSEEN + 100);
        if (trouble) {
            tell("waiting", record); // behind others that wait already
        }
        pump();
    }

    // One after the other, in the order they were saved; the next only when the one before has its answer.
    async function pump() {
        if (sending) {
            return;
        }
        sending = true;
        clearTimeout(timer);
        let record;
        while ((record = waiting()[0])) {
            const answer = await ask(record.route, record.body);
            trouble = answer.trouble;
            if (trouble) {
                timer = setTimeout(pump, wait);
                wait = Math.min(2 * wait, LONGEST_WAIT);
                waiting().forEach((one) => tell("waiting", one));
                break;
            }
            wait = FIRST_WAIT;
            settle(record, answer.said);
        }
        sending = false;
        show();
    }

    function settle(record, said) {
        if (!said.refused) {
            const { key, name, truck, seen } = record;
            const last = JSON.stringify({ key, name, truck, seen, at: Date.now(), said: said });
            stored((shelf) => shelf.setItem(LAST, last));
            drop(record.key);
            tell("saved", record, said);
            return;
        }
        const back = Object.assign({}, record, { state: "back", said: said });
        if (said.renew) {
            // Its key is spent on other readings: saved again, it is a save of its own.
            drop(record.key);
            back.key = newKey();
        }
        put(back);
        tell("back", record, said, back);
    }

    // What the server says to a body, or what stands in the way of its saying anything: {said} or {trouble}.
    async function ask(route, body) {
        const stop = new AbortController();
        const clock = setTimeout(() => stop.abort(), PATIENCE);
        try {
            const answer = await fetch(route, {
                method: "POST",
                headers: headers(),
                body: JSON.stringify(body),
                cache: "no-store",
                redirect: "manual",
                signal: stop.signal,
            });
            if (answer.type === "opaqueredirect" || answer.status === 401 || answer.status === 403) {
                const why = parsed(await answer.text().catch(() => ""));
                return { trouble: (why && why.error) || "Log in again; nothing is lost.", login: true };
            }
            const said = await answer.json();
            const judged = said.refused ? said.key === body.key || said.key === "" : answer.ok && said.key === body.key;
            if (!judged) {
                return { trouble: said.error || "The server has a fault (" + answer.status + ")." };
            }
            return { said: said, trouble: "" };
        } catch {
            return { trouble: "The server does not answer." };
        } finally {
            clearTimeout(clock);
        }
    }

    function headers() {
        const token = /(?:^|; )_csrf_token=([^;]*)/.exec(document.cookie);
        const known = token ? { "X-CSRFToken": decodeURIComponent(token[1]) } : {};
        return Object.assign({ "Content-Type": "application/json" }, known);
    }

    function hold(key) {
        held = key;
        show();
    }

    function now() {
        wait = FIRST_WAIT;
        show();
        pump();
    }

    // ---------------------------------------------------------------- telling

    // To this page: what became of a record. `back`: the record that stands for it now.
    function tell(what, record, said, back) {
        document.dispatchEvent(new CustomEvent("outbox", { detail: { what, record, said, back } }));
    }

    // Whether a form on this page takes it up; if not, the link opens its page.
    function take(record) {
        return !document.dispatchEvent(new CustomEvent("outbox-look", { detail: record, cancelable: true }));
    }

    // "1 run", "2 runs and 1 position".
    function counted(records) {
        const kinds = [...new Set(records.map((record) => record.what))];
        const many = (what) => records.filter((record) => record.what === what).length;
        return kinds.map((what) => `${many(what)} ${what}${many(what) === 1 ? "" : "s"}`).join(" and ");
    }

    function show() {
        const place = document.getElementById("outbox");
        if (!place) {
            return;
        }
        const parts = [];
        const out = waiting();
        if (out.length && (trouble || Date.now() - out[0].asked > UNSEEN)) {
            const kept = out.some((record) => memory.has(record.key))
                ? " waiting, NOT kept if this page is closed: "
                : " waiting, saved on this phone: ";
            const line = element("p", counted(out) + kept);
            line.append(out.map((record) => record.name).join(", ") + ". " + trouble + " ");
            line.append(button("Send now", now));
            parts.push(line);
        }
        for (const record of all().filter((one) => one.state === "back" && one.key !== held)) {
            const line = element("p", `${record.name} of ${record.truck} needs a look; nothing of it is in the log yet. `);
            const look = (event) => void (take(record) && event.preventDefault());
            line.append(element("a", "Look at it", { href: record.page + "#" + record.key, onclick: look }), " ");
            line.append(button("Throw it away", () => throwAway(record)));
            parts.push(line);
        }
        if (memory.size && !out.length) {
            const why = "This browser keeps nothing (a private window, or its storage is full).";
            parts.push(element("p", why + " Leave the page open until it says saved."));
        }
        showLast();
        const words = parts.map((part) => part.textContent).join("");
        if (place.textContent !== words) {
            place.className = parts.length ? "note warn" : "";
            place.replaceChildren(...parts);
        }
    }

    function showLast() {
        const place = document.getElementById("log-last");
        const last = lastSaved();
        if (place && last) {
            const at = new Date(last.at).toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
            const link = element("a", `${last.name} of ${last.truck}`, { href: last.seen });
            place.replaceChildren("Last saved from here: ", link, ", " + at + ".");
        }
    }

    function lastSaved() {
        return parsed(stored((shelf) => shelf.getItem(LAST)));
    }

    // The record that the address names, once.
    function linked() {
        const key = window.location.hash.slice(1);
        if (key) {
            history.replaceState(history.state, "", window.location.pathname + window.location.search);
        }
        return key;
    }

    window.addEventListener("online", now);
    window.addEventListener("pageshow", now);
    window.addEventListener("storage", show);
    document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && now());
    window.addEventListener("beforeunload", (event) => memory.size && event.preventDefault());
    const drawn = setInterval(() => document.getElementById("outbox") && (clearInterval(drawn), show()), 200);

    window.outbox = { newKey, put, get, drop, throwAway, all, send, ask, hold, linked, lastSaved };
})();
