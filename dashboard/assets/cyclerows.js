// Rows of a cycle table come and go. One that is empty and was not asked for stays out of sight (truck.css).
(function () {
    "use strict";

    const shown = (row) => row.offsetParent !== null;

    function add(table) {
        const rows = [...table.querySelectorAll(".cycle-row")];
        const last = rows.findLastIndex(shown);
        const row = rows.slice(last + 1).find((one) => !shown(one)) || rows.find((one) => !shown(one));
        if (row) {
            row.classList.add("open");
            row.querySelector("input").focus();
        }
    }

    function takeOut(table, row) {
        for (const field of row.querySelectorAll("input")) {
            window.dash_clientside.set_props(JSON.parse(field.id), { value: "" });
        }
        row.classList.remove("open");
        table.querySelector(".add-row").focus();
    }

    function count(table) {
        table.querySelector(".add-row").disabled = [...table.querySelectorAll(".cycle-row")].every(shown);
    }

    document.addEventListener("click", (event) => {
        const button = event.target.closest(".add-row, .take-out");
        const table = button && button.closest(".cycle-rows");
        if (table) {
            button.classList.contains("add-row") ? add(table) : takeOut(table, button.closest(".cycle-row"));
            setTimeout(() => count(table), 200);
        }
    });
})();
