// Drawings are put in place, and the part that the field in hand names is drawn thicker.
(function () {
    "use strict";

    // A drawing's text is the server's own; nothing that anybody typed is in it but figures.
    function put(drawn) {
        if (drawn.dataset.put !== drawn.dataset.svg) {
            drawn.dataset.put = drawn.dataset.svg;
            drawn.innerHTML = drawn.dataset.svg;
        }
    }

    function look(changes) {
        for (const change of changes) {
            const found = change.type === "attributes" ? [change.target] : [...change.addedNodes];
            for (const node of found.filter((one) => one.nodeType === Node.ELEMENT_NODE)) {
                [node, ...node.querySelectorAll(".drawn")].filter((one) => one.dataset.svg).forEach(put);
            }
        }
    }

    function mark(event) {
        const stage = event.target.closest(".stage");
        const field = event.target.closest("[data-dim]");
        document.querySelectorAll(".measures .on").forEach((part) => part.classList.remove("on"));
        if (stage && field && event.type === "focusin") {
            stage.querySelectorAll(`.measures [data-of~="${field.dataset.dim}"]`).forEach((part) => part.classList.add("on"));
        }
    }

    new MutationObserver(look).observe(document.documentElement, { childList: true, subtree: true, attributes: true, attributeFilter: ["data-svg"] });
    document.addEventListener("focusin", mark);
    document.addEventListener("focusout", mark);
})();
