/* How is a list said anew without taking away what a finger is on? What stays the same stays where it is: a tap that began
   before the list changed meets its button, the focus keeps its place, an open fold stays open.

       set_rows(list, list_of_elements);     // these very elements, in this order
       say_anew(box, freshly_made);          // the same, but what equals an element already there is that element       */

export function set_rows(list, rows) {
  for (const one of [...list.children]) if (!rows.includes(one)) one.remove();
  rows.forEach((row, i) => { if (list.children[i] !== row) list.insertBefore(row, list.children[i] || null); });
}

export function say_anew(list, made) {
  const there = [...list.children];
  set_rows(list, made.map((one) => {
    const same = there.findIndex((old) => old.isEqualNode(one));
    return same < 0 ? one : there.splice(same, 1)[0];
  }));
}
