/** The builder puts imported style sheets beside the page. */
declare module '*.css';
