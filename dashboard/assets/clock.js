// Times as the log writes them: the shop's own, or with the phone's zone where the log's times have one.
(function () {
    "use strict";
    const two = (number) => String(Math.floor(number)).padStart(2, "0");

    // 2025-05-31T14:30:05 of this phone's clock.
    function stamp(at) {
        const day = [at.getFullYear(), two(at.getMonth() + 1), two(at.getDate())].join("-");
        return day + "T" + [two(at.getHours()), two(at.getMinutes()), two(at.getSeconds())].join(":");
    }

    // 2025-05-31 14:30, as a person reads and writes it.
    const shown = (stamped) => stamped.slice(0, 16).replace("T", " ");

    // A text with the phone's offset of that day behind it; one that has an offset, or is no time, stays as it is.
    function zoned(text) {
        const at = new Date(text.replace(" ", "T"));
        if (/(Z|[+-]\d\d:\d\d)$/.test(text) || Number.isNaN(at.getTime())) {
            return text;
        }
        const off = -at.getTimezoneOffset();
        return text + (off < 0 ? "-" : "+") + two(Math.abs(off) / 60) + ":" + two(Math.abs(off) % 60);
    }

    window.clock = { stamp, shown, zoned };
})();
