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

    window.dom = { $, say, element, button, stored };
})();
