import { Empty } from "../../shell/States";

export default function NotYet() {
  return <Empty title="This page is being built" />;
}
