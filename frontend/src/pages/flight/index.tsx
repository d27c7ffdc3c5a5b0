import { FlightMap } from "../../map/FlightMap";

export default function Flight() {
  return (
    <div style={{ height: "70vh" }}>
      <FlightMap name="Map of the flight" ready={() => undefined} />
    </div>
  );
}
