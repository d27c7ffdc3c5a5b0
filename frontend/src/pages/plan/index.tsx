import { plan } from "../../shell/plan";

export default function Plan() {
  return <h1>{plan.value?.mission?.name ?? "Plan"}</h1>;
}
