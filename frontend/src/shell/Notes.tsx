// Remarks folded away behind their count; nothing where there are none.

/** `on` says what they are on: "this area". */
export function Notes({ notes, on, look = "small" }: { notes: readonly string[]; on?: string; look?: string }) {
  if (notes.length === 0) return null;
  return (
    <details class={look}>
      <summary>
        {notes.length === 1 ? "1 note" : `${notes.length} notes`}
        {on && ` on ${on}`}
      </summary>
      <ul>
        {notes.map((note) => (
          <li>{note}</li>
        ))}
      </ul>
    </details>
  );
}
