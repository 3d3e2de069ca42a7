// What scripts say. The words come with the page, marked for translation in templates/components/words/, one template
// element for each script, so that none has to be fetched.
const words = new Map([...document.querySelectorAll("template[data-words]")]
  .flatMap((box) => [...box.content.children])
  .map((one) => [one.dataset.say, one.textContent.trim().replace(/\s+/g, " ")]));

/** The words for ``key``, with each {name} replaced by its fact. */
export const say = (key, facts = {}) => words.get(key).replace(/\{(\w+)\}/g, (_, name) => facts[name]);
