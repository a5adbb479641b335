// The list of springs stays in the browser: the server is told its hash, and its text only once.
(function () {
    "use strict";
    const MOST_BYTES = 1000000;

    function fileText(contents) {
        const packed = atob(contents.slice(contents.indexOf(",") + 1));
        if (packed.length > MOST_BYTES) {
            return { fault: "is larger than 1 MB. Leave out springs that can't fit." };
        }
        const bytes = Uint8Array.from(packed, (letter) => letter.charCodeAt(0));
        try {
            return { text: new TextDecoder("utf-8", { fatal: true }).decode(bytes) };
        } catch {
            return { fault: "is no plain text. Save the sheet as CSV (UTF-8)." };
        }
    }

    window.dash_clientside = Object.assign({}, window.dash_clientside, {
        springs: {
            // What is kept fills the box and is named to the server.
            fill: function (kept) {
                const list = kept[0];
                if (!list) {
                    return [window.dash_clientside.no_update, null, "", true];
                }
                const many = list.count + (list.count === 1 ? " spring" : " springs");
                const stock = { key: list.key, count: list.count, at: list.at };
                return [list.text, stock, many + " in use, from " + list.name + ".", false];
            },
            // A file is offered to the server.
            offer: function (contents, filename) {
                if (!contents) {
                    return window.dash_clientside.no_update;
                }
                return Object.assign({ name: filename, at: Date.now() }, fileText(contents));
            },
        },
    });
})();
