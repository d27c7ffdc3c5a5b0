// What can be taken along: documents, and the flight for maps of every kind. Made when somebody asks for it.
import { useState } from "preact/hooks";
import { get } from "../../api/client";
import { useJob } from "../../api/jobs";
import { may } from "../../api/session";
import { plan } from "../../shell/plan";
import { Loading, Trouble } from "../../shell/States";
import { keyOf, type Choice } from "../window/choice";
import "./papers.css";

export function Papers({ choice, title }: { choice: Choice; title: string }) {
  const [wanted, setWanted] = useState(false);
  return (
    <section class="papers no-print" aria-label={title}>
      <h2>{title}</h2>
      {!may("crew") ? (
        <p class="small">Documents hold telephone numbers of the crew; they are for the crew alone.</p>
      ) : wanted ? (
        <Made choice={choice} key={keyOf(choice)} />
      ) : (
        <p class="papers-ask">
          <button onClick={() => setWanted(true)}>Make documents and map files</button>
          <span class="small">PDF, HTML, KML, GPX, GeoJSON; takes about half a minute.</span>
        </p>
      )}
    </section>
  );
}

function Made({ choice }: { choice: Choice }) {
  const { answer, job, error, again } = useJob(`papers ${plan.value?.digest ?? ""} ${keyOf(choice)}`, (signal) => get("/api/briefing/papers", {}, choice, signal));
  if (error) return <Trouble error={error} again={again} />;
  if (!answer) return <Loading what="Making the papers" job={job} />;
  return (
    <ul class="papers-list">
      {answer.papers.map((paper) => (
        <li>
          <a class="button" href={`/api/briefing/papers/${paper.name}?${new URLSearchParams(choice)}`} download={paper.name}>
            {paper.words}
          </a>
        </li>
      ))}
    </ul>
  );
}
