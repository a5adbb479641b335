// A truck's pages on a phone: the row stands so that the page one is on is in the middle, and fades where there is more.
(function () {
    "use strict";

    function fade(row) {
        row.classList.toggle("at-start", row.scrollLeft < 2);
        row.classList.toggle("at-end", row.scrollLeft > row.scrollWidth - row.clientWidth - 2);
    }

    function place(row) {
        const here = row.querySelector(".here");
        if (here) {
            row.scrollLeft = here.offsetLeft + here.offsetWidth / 2 - row.clientWidth / 2;
        }
        row.addEventListener("scroll", () => fade(row), { passive: true });
        fade(row);
    }

    // Each page is drawn with a row of its own.
    let last = null;
    new MutationObserver(() => {
        const row = document.querySelector(".pages ul");
        if (row && row !== last) {
            last = row;
            place(row);
        }
    }).observe(document.documentElement, { childList: true, subtree: true });
})();
