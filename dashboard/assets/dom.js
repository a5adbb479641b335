// A few words for pages that live in the browser.
(function () {
    "use strict";

    const $ = (id) => document.getElementById(id);

    // Give a component of Dash other properties: what is written over its head, its next drawing undoes.
    const say = (id, properties) => $(id) && window.dash_clientside.set_props(id, properties);

    function element(tag, text, more, ...children) {
        const made = Object.assign(document.createElement(tag), more);
        made.append(...(text ? [text] : []), ...children);
        return made;
    }

    function button(text, action, more) {
        return element("button", text, Object.assign({ type: "button", className: "minor", onclick: action }, more));
    }

    // A private window may forbid its storage, and a full one takes nothing more.
    function stored(action) {
        try {
            return action(window.localStorage, window.sessionStorage);
        } catch {
            return undefined;
        }
    }

    // Once no finger is down: what is drawn under one moves the button away from it, and the tap is lost.
    let down = false;
    const up = () => (down = false);
    document.addEventListener("pointerdown", () => (down = true), true);
    document.addEventListener("pointerup", up, true);
    document.addEventListener("pointercancel", up, true);

    async function released() {
        while (down) {
            await new Promise((done) => setTimeout(done, 50));
        }
    }

    window.dom = { $, say, element, button, stored, released };
})();
