/** Who may do what on the screens. The service decides again; here it only hides closed doors. */

/** @typedef {"technician"|"vet"|"manager"|"auditor"} Role */
/** @typedef {"book"|"rules"|"override"|"release-hold"|"manage"|"reserve"|"audit"|"sign"} Act */

/** @type {Record<Act, Role[]>} */
const ALLOWED = {
  book: ["technician", "vet", "manager"],
  rules: ["vet", "manager"],
  override: ["vet", "manager"],
  "release-hold": ["vet", "manager"],
  manage: ["manager"],
  reserve: ["manager"],
  audit: ["manager", "auditor"],
  sign: ["auditor"],
};

/** @param {string} role @param {Act} act */
export function may(role, act) {
  return ALLOWED[act].includes(/** @type {Role} */ (role));
}
