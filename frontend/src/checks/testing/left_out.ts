/** What of the shared cases the phone's checks do not answer, each with the reason. Nothing else may be left out. */

/** Checks by name: what they hold to the answer is not on the phone. */
export const CHECKS_LEFT_OUT: Readonly<Record<string, string>> = {
  assign: "the server proposes under which authority a line should stand; the phone records what the crew says",
  issued_names: "the names as a permit writes them come from the server, beside the accepted ones",
  nil: "a statement that nothing was collected is part of the report, which the server sets",
  amended_report: "an amended report is set by the server",
};
