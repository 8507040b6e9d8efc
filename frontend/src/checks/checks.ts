/** The phone's checks: what the rest of the app may use of them. */
export { instant, spokenDay, spokenTime, type Instant } from "./calendar";
export { parseCount, type CountText } from "./count_text";
export type { Count } from "./counts";
export { exact, type Exact } from "./exact";
export { Facts, type Book } from "./facts";
export type { Finding, Tally } from "./finding";
export { judge, judgeFacts, LEFT_TO_THE_SERVER, type Answer, type Judgement } from "./judge";
export { tenths } from "./measures";
export { withAcceptedNames, type Authority } from "./permits";
export { areaOf, type Area } from "./places/areas";
export { Reader, type Season } from "./records";
export { keepAtMost, type Allotment, type Allowance, type Room } from "./remaining";
export { Taxa, type Identification, type Taxon } from "./taxa";
export { amountWords, countWords } from "./words";
