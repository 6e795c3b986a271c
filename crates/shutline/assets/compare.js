// Before and after in one frame: the slider says how much of the picture before is seen. Without this module both stand
// side by side.
function begin() {
  for (const frame of document.querySelectorAll("[data-compare]:not(.stacked)")) {
    const slider = frame.querySelector("input[type=range]");
    const after = frame.querySelector(".new");
    frame.classList.add("stacked");
    slider.closest(".slide").hidden = false;
    const show = () => {
      const share = Number(slider.value);
      after.style.clipPath = `inset(0 0 0 ${share}%)`;
      slider.setAttribute("aria-valuetext", `${share} % before, ${100 - share} % after`);
    };
    slider.addEventListener("input", show);
    show();
  }
}

begin();
document.addEventListener("renewed", begin);
