// Work that takes its time: asks the server how far it is and shows it, until it is over or somebody has stopped it.
// A lost link only delays it: the page asks again, and so does the server where it has forgotten.
(function () {
    "use strict";
    const { $, say } = window.dom;
    const EVERY = 400; // ms between two looks
    const AGAIN = 8000; // ms in which an answer that is there has to be drawn
    const COUNTED = 200; // parts up to which they are counted; beyond they are a share
    const live = {}; // by area: what is followed now

    const pause = (ms) => new Promise((then) => setTimeout(then, ms));

    async function look(page) {
        try {
            const answer = await fetch(`/doing/${page}`);
            return answer.ok ? await answer.json() : {};
        } catch {
            return {};
        }
    }

    function show(area, told) {
        const share = told.of > COUNTED ? `${Math.floor((100 * told.done) / told.of)} %` : `${told.done} of ${told.of}`;
        const parts = told.of > 1 ? `: ${share}` : "";
        const stopping = told.state === "stopping";
        say(`${area}-what`, { children: stopping ? "Stopping …" : `${told.what}${parts} …` });
        say(`${area}-share`, { value: String(told.done), max: String(told.of) });
        buttons(area, false);
    }

    function buttons(area, stopped) {
        say(`${area}-stop`, { hidden: stopped });
        say(`${area}-again`, { hidden: !stopped });
        say(`${area}-share`, { hidden: stopped });
        say(`${area}-doing`, { hidden: false });
    }

    function showStopped(area) {
        const words = $(`${area}-doing`).dataset.stopped;
        const held = document.activeElement === $(`${area}-stop`);
        say(`${area}-what`, { children: words });
        say(`${area}-said`, { children: words });
        buttons(area, true);
        if (held) {
            setTimeout(() => $(`${area}-again`).focus(), 50); // the button under the finger goes, its place stays
        }
    }

    async function follow(job, page, card) {
        const area = card.replace("-doing", "");
        const mine = (live[area] = {});
        if (!job) {
            say(card, { hidden: true });
            say(`${area}-said`, { children: "" });
            return;
        }
        say(`${area}-said`, { children: "This takes a moment. There is a button to stop it." });
        while (live[area] === mine && $(card)) {
            const told = await look(page);
            if (live[area] !== mine || !$(card)) {
                return;
            }
            if (told.state === "stopped") {
                showStopped(area);
                return;
            }
            if (told.state === "ended" || told.state === "gone") {
                window.dash_clientside.set_props(`${area}-go`, { data: Date.now() }); // a store: nothing to be found
                await pause(AGAIN);
            } else {
                if (told.state) {
                    show(area, told);
                }
                await pause(EVERY);
            }
        }
    }

    window.dash_clientside = Object.assign({}, window.dash_clientside, {
        progress: {
            follow: function (job, page, card) {
                follow(job, page, card); // goes on by itself
            },
            again: () => Date.now(),
        },
    });
})();
