// Plus and minus beside a number; without this file one types it.
document.querySelectorAll(".step-by").forEach((button) => {
  button.hidden = false;
  button.addEventListener("click", () => {
    const field = button.parentElement.querySelector("input");
    field.value = Math.max(0, Number(field.value || 0) + Number(button.dataset.step));
  });
});
