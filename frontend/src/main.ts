import { mount } from "svelte";
import App from "./App.svelte";
import "./ui/theme.css";

const place = document.getElementById("app");
if (place === null) throw new Error("The page has no element 'app' to build the app in.");
mount(App, { target: place });
