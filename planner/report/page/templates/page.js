"use strict";
(() => {
  const old = document.querySelector("[data-until]");
  const answer = document.querySelector(".answer");
  const check = () => {
    const over = Date.now() > Date.parse(old.dataset.until);
    const late = Date.now() > Date.parse(old.dataset.lastStart);
    old.classList.toggle("over", over);
    answer.classList.toggle("stale", over || late);
    document.querySelector(".late").hidden = !late;
  };
  if (old && old.dataset.until) {
    check();
    setInterval(check, 60000);
  }
  for (const row of document.querySelectorAll("[data-pull]")) {
    const chart = JSON.parse(row.dataset.pull);
    const input = row.querySelector("input");
    const said = row.querySelector("output");
    const last = chart.first + chart.texts.length - 1;
    row.hidden = false;
    input.addEventListener("input", () => {
      const typed = input.value.trim();
      const text = chart.texts[Math.round(Number(typed)) - chart.first];
      if (typed === "") {
        said.textContent = "";
      } else {
        said.textContent = text ||
          `Do not pull film that is so ${typed < chart.first ? "cold" : "hot"}: ` +
          `the chart goes from ${chart.first} to ${last} ${chart.unit}.`;
      }
    });
  }
})();
