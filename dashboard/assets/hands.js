// What is being typed is in the hands of one tab. Each tab asks the others before it takes it up.
(function () {
    "use strict";
    const ANSWER_WAIT = 150; // ms; a tab that sleeps does not answer, and finds out when it wakes
    const tab = Math.random().toString(36).slice(2);
    const channel = "BroadcastChannel" in window ? new BroadcastChannel("tuning-runs") : null;
    const taken = new Set();
    const own = []; // each gives the key of what a form of this tab has in hand, or nothing

    // Those of the keys that no other tab has in hand.
    async function free(keys) {
        if (!keys.length || !channel) {
            return keys;
        }
        keys.forEach((key) => taken.delete(key));
        keys.forEach((key) => channel.postMessage({ who: key }));
        await new Promise((done) => setTimeout(done, ANSWER_WAIT));
        return keys.filter((key) => !taken.has(key));
    }

    if (channel) {
        channel.onmessage = (event) => {
            const { who, mine } = event.data;
            if (mine) {
                taken.add(mine);
            } else if (who && own.some((key) => key() === who)) {
                channel.postMessage({ mine: who });
            }
        };
    }

    window.hands = { tab, free, hold: (key) => own.push(key) };
})();
