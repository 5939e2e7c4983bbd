/** Starts the page. */
import { render } from 'preact';
import { Desk } from './desk.tsx';
import './style.css';

const root = document.getElementById('desk');
if (root) render(<Desk />, root);
