// Who has a link: the director makes one for each person and ends it again.
import { useEffect, useRef, useState } from "preact/hooks";
import { get, post, remove, type Schemas } from "../api/client";
import { Trouble } from "./States";
import "./people.css";

type All = Schemas["PeopleAnswer"];
type Link = Schemas["LinkAnswer"];
type Role = Schemas["Role"];

const MAY: Record<Role, string> = {
  viewer: "sees the flight, no telephone numbers",
  crew: "also sees numbers, acknowledges and reports",
  director: "also changes the plan, decides and shares",
};

export function People() {
  const dialog = useRef<HTMLDialogElement>(null);
  const [open, setOpen] = useState(false);
  return (
    <>
      <button
        type="button"
        onClick={() => {
          setOpen(true);
          dialog.current?.showModal();
        }}
      >
        People
      </button>
      <dialog ref={dialog} aria-label="People with a link" onClose={() => setOpen(false)}>
        <div class="dialog-head">
          <h2>People with a link</h2>
          <button type="button" onClick={() => dialog.current?.close()}>
            Close
          </button>
        </div>
        {open && <Inside />}
      </dialog>
    </>
  );
}

function Inside() {
  const [all, setAll] = useState<All | null>(null);
  const [link, setLink] = useState<Link | null>(null);
  const [error, setError] = useState<unknown>(null);
  const load = () => get("/api/people").then(setAll, setError);
  useEffect(() => void load(), []);
  if (error) return <Trouble error={error} again={() => (setError(null), void load())} />;
  if (!all) return <p role="status">Asking the desk</p>;
  return (
    <>
      {all.address ? (
        <>
          <p>
            Open to the local network at <strong>{all.address}</strong>. A browser warns of its certificate the first time: go on only when it shows this
            SHA-256 fingerprint.
          </p>
          <p class="code">{all.fingerprint}</p>
        </>
      ) : (
        <p>
          This desk is open to this laptop alone. To let the crew in, stop it and start it with <span class="code">pappus desk --share</span>.
        </p>
      )}
      <NewLink
        made={(one) => {
          setLink(one);
          void load();
        }}
        failed={setError}
      />
      {link && <LinkShown link={link} />}
      <table>
        <thead>
          <tr>
            <th>name</th>
            <th>role</th>
            <th>since</th>
            <th />
          </tr>
        </thead>
        <tbody>
          {all.people.map((one) => (
            <tr>
              <td>{one.name}</td>
              <td>{one.role}</td>
              <td>{one.since_utc.replace("T", " ")}</td>
              <td>
                {one.revoked_utc ? (
                  `ended ${one.revoked_utc.replace("T", " ")}`
                ) : one.id === "laptop" ? (
                  ""
                ) : (
                  <button type="button" onClick={() => remove("/api/people/{person_id}", { person_id: one.id }).then(load, setError)}>
                    End the link
                  </button>
                )}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </>
  );
}

function NewLink({ made, failed }: { made: (link: Link) => void; failed: (error: unknown) => void }) {
  const [name, setName] = useState("");
  const [role, setRole] = useState<Role>("crew");
  return (
    <form
      class="row"
      onSubmit={(event) => {
        event.preventDefault();
        post("/api/people", { name, role }).then((link) => {
          setName("");
          made(link);
        }, failed);
      }}
    >
      <label>
        <span class="small">Name</span>
        <br />
        <input value={name} required maxLength={40} onInput={(event) => setName(event.currentTarget.value)} />
      </label>
      <label>
        <span class="small">Role</span>
        <br />
        <select value={role} onChange={(event) => setRole(event.currentTarget.value as Role)}>
          {(Object.keys(MAY) as Role[]).map((one) => (
            <option value={one}>{one}</option>
          ))}
        </select>
      </label>
      <button class="first">Make a link</button>
      <span class="small">{`The ${role} ${MAY[role]}.`}</span>
    </form>
  );
}

function LinkShown({ link }: { link: Link }) {
  return (
    <section class="link-shown" aria-label={`Link for ${link.person.name}`}>
      <img alt={`QR code of the link for ${link.person.name}`} src={`data:image/svg+xml;utf8,${encodeURIComponent(link.qr_svg)}`} width="220" height="220" />
      <div>
        <p>
          For <strong>{link.person.name}</strong>, {link.person.role}. It is shown this once; whoever has it is let in.
        </p>
        <p class="code">{link.link}</p>
        {link.fingerprint && <p class="smallest code">certificate {link.fingerprint}</p>}
      </div>
    </section>
  );
}
