// Talking to the server. Each request carries the visitor's pass in a header of its own; there are no cookies.

import { said, t } from "./words.js";

const PASS = "salvage pass";
const HEADER = "x-salvage-pass";

/** This tab, as the server tells tabs apart; a reload is the same tab. */
export const tab = (() => {
  const own = sessionStorage.getItem("salvage tab") ?? crypto.getRandomValues(new Uint32Array(3)).join("-");
  sessionStorage.setItem("salvage tab", own);
  return own;
})();

export class Refused extends Error {
  constructor(status, told) {
    super(said(told.error ?? t("app.unknown_error")));
    this.status = status;
    this.stale = Boolean(told.stale);
    this.elsewhere = Boolean(told.elsewhere);
  }
}

/** Thrown where the program on the computer doesn't answer. */
export class Lost extends Error {
  constructor() {
    super(t("app.lost"));
  }
}

const pass = () => localStorage.getItem(PASS) ?? "";

/** Come in with the key of the address, if there is one; it is taken out of the address at once. */
export async function enter() {
  const key = location.hash.slice(1);
  if (!key || key.startsWith("/")) return;
  history.replaceState(null, "", `${location.pathname}#/`);
  const told = await answerOf(await sent("/api/enter", { method: "POST", headers: json, body: JSON.stringify({ key }) }));
  localStorage.setItem(PASS, told.pass);
}

const json = { "content-type": "application/json" };

async function sent(path, options) {
  try {
    return await fetch(path, options);
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Lost();
  }
}

async function answerOf(response) {
  const told = await response.json().catch(() => ({}));
  if (!response.ok) throw new Refused(response.status, told);
  return told;
}

/** Ask the server; plain data in and out. */
export async function ask(name, told = {}, signal = undefined) {
  return answerOf(await sent(`/api/${name}`, posted(told, { signal })));
}

/** Tell the server something that arrives even where the page is being closed. */
export function tellLast(name, told) {
  sent(`/api/${name}`, posted(told, { keepalive: true })).catch(() => {});
}

const posted = (told, more) => ({ method: "POST", headers: { ...json, [HEADER]: pass() }, body: JSON.stringify(told), ...more });

/** Send a photograph into the folder. tell: gets the share that was sent, 0 to 1. */
export function send(file, tell = () => {}) {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest(); // fetch can't tell how far an upload is
    request.open("POST", `/api/photo?name=${encodeURIComponent(file.name)}`);
    request.setRequestHeader(HEADER, pass());
    request.setRequestHeader("content-type", "application/octet-stream");
    request.responseType = "json";
    request.upload.onprogress = (event) => event.lengthComputable && tell(event.loaded / event.total);
    request.onload = () =>
      request.status < 300 ? resolve(request.response) : reject(new Refused(request.status, request.response ?? {}));
    request.onerror = () => reject(new Lost());
    request.send(file);
  });
}

const pictures = new Map();

/** The address of a photograph in this page's memory. more: most (px) and box (left, top, right, bottom). */
export const picture = (photo, more = {}) => kept(`/api/picture?${new URLSearchParams({ photo, ...more })}`);

/** The address of a garment's small marked picture, by the content of its record. */
export const picture_of = (content) => kept(`/api/rail_picture?${new URLSearchParams({ content })}`);

async function kept(path) {
  if (!pictures.has(path)) {
    pictures.set(path, fetched(path));
    pictures.get(path).catch(() => pictures.delete(path));
  }
  return pictures.get(path);
}

async function fetched(path) {
  const response = await sent(path, { headers: { [HEADER]: pass() } });
  if (!response.ok) throw new Refused(response.status, await response.json().catch(() => ({})));
  return URL.createObjectURL(await response.blob());
}

/** Follow a job to its end. tell: gets each state on the way. Gives its result; throws what it failed with. */
export async function follow(number, tell = () => {}, signal = undefined) {
  let seen = -1;
  for (;;) {
    const response = await sent(`/api/job/${number}?seen=${seen}`, { headers: { [HEADER]: pass() }, signal });
    const job = await answerOf(response);
    seen = job.steps_done;
    tell(job);
    if (job.state === "done") return job.result;
    if (job.state === "stopped") return null;
    if (job.state === "failed") throw new Refused(422, { error: job.error });
  }
}

/** Whether somebody came in with this browser before. */
export const known = () => pass() !== "";
