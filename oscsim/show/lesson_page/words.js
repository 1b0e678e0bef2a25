// The lesson's data, and its words in the language of the page.

const LESSON = JSON.parse(document.getElementById("lesson-data").textContent);

/** A number as it is written in the language of the page. */
const told = (number) => String(number).replace(".", LESSON.words.decimal);

/** A text of the table, with values put where it has {names}. */
function say(key, values = {}) {
  return LESSON.words[key].replace(/\{(\w+)\}/g, (_, name) => values[name]);
}
