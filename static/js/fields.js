// What somebody has typed or chosen in a field and not sent yet.
export const changed = (field) => {
  if (field.matches("select")) return [...field.options].some((option) => option.selected !== option.defaultSelected && option.value);
  if (field.matches("[type=checkbox], [type=radio]")) return field.checked !== field.defaultChecked;
  return field.value !== field.defaultValue;
};

export const fieldsOf = (part) => [...part.querySelectorAll("input:not([type=hidden]), select, textarea")];
